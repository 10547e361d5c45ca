/** One photo at the sizes at which it is searched; each is worked out once, when it is first asked for. */

import type { GreyImage } from '../quantity/index.js';
import type { PencilPair } from './find-pencils.js';
import type { Sight } from './probe-unit.js';
import { type ReducedImage, reduceImage } from './reduce-image.js';
import { computeRidgeField, type RidgeField } from './ridge-field.js';
import { seePencils } from './search-placement.js';

export interface Scene {
  readonly picture: ReducedImage;
  sight(sign: Sight['sign']): Sight;
  /** Families of lines of one sign that are seen at this size. */
  pencils(sign: Sight['sign']): readonly PencilPair[];
}

export class Scenes {
  private readonly known = new Map<number, Scene>();

  constructor(
    private readonly grey: GreyImage,
    private readonly step: (name: string) => void,
  ) {}

  /** @param side longest side wanted, at most the photo's own; px. */
  at(side: number): Scene {
    const scene = this.known.get(side) ?? this.prepare(side);
    this.known.set(side, scene);
    return scene;
  }

  all(): readonly Scene[] {
    return [...this.known.values()];
  }

  private prepare(side: number): Scene {
    const { step } = this;
    const picture = reduceImage(this.grey, side);
    step('reduce');
    let known: RidgeField | undefined;
    const field = () => {
      if (known === undefined) {
        known = computeRidgeField(picture);
        step('ridge field');
      }
      return known;
    };
    const pencils = new Map<Sight['sign'], readonly PencilPair[]>();
    return {
      picture,
      sight: (sign) => ({ field: field(), sign }),
      pencils: (sign) => {
        const pairs = pencils.get(sign) ?? seePencils({ field: field(), sign }, picture, step);
        pencils.set(sign, pairs);
        return pairs;
      },
    };
  }
}
