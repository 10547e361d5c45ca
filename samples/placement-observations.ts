/**
 * A board that is marked more than once, moved in between: where the marks of all placements appear in each
 * photo. The board's frame is the machine's as it stood at the first placement.
 */

import { landedPosition, type MachineErrors } from './machine-errors.js';
import type { CommandedPlace } from './observations.js';
import { boardHeight, cameraFrame, pixelFromBoard } from './pinhole-view.js';
import { createRandomSource } from './random-source.js';
import type { Scene } from './scene.js';

/** One program's marks, and where the machine stood against the board meanwhile. */
export interface MarkedPlacement {
  readonly places: readonly MarkedPlace[];
  /** Board from machine: first turned anticlockwise (rad), then shifted (mm). */
  readonly turnRad: number;
  readonly shiftMm: readonly [number, number];
  /** The machine as it was then; the scene's where absent. */
  readonly machine?: MachineErrors;
}

/** A place of a line's middle, and the axis along which the line runs. */
export interface MarkedPlace extends CommandedPlace {
  readonly runsAlong: 'x' | 'y';
}

export interface PlacementObservation {
  readonly photoIndex: number;
  readonly placement: number;
  /** Index into the placement's places. */
  readonly place: number;
  /** Sensor pixel of the mark's centre, and unit direction of the mark in the picture. */
  readonly u: number;
  readonly v: number;
  readonly alongU: number;
  readonly alongV: number;
}

export interface PlacementNoise {
  readonly sigmaPx: number;
  /** Of a mark's place on the board, the same in all photos; mm. */
  readonly sigmaMarkMm: number;
  readonly seed: number;
  /** Height over what the scene's board has; mm. */
  readonly extraHeightMm?: (xMm: number, yMm: number) => number;
  /** What a finished picture suffers beyond lens and pose: the sensor pixel → where it ends up. */
  readonly editedPixel?: (u: number, v: number, photoIndex: number) => readonly [number, number];
}

/** Half of the stretch of a mark from which its direction is taken, mm. */
const REACH_MM = 1;

/** Where the marks of each placement are seen; what lies outside a frame is left out. */
export function observePlacements(
  scene: Scene,
  placements: readonly MarkedPlacement[],
  noise: PlacementNoise,
): PlacementObservation[] {
  const random = createRandomSource(noise.seed).fork('placements');
  const onBoard = placements.map(({ places }, i) => {
    const marks = random.fork(`marks ${i}`);
    return places.map(() => [marks.normal(), marks.normal()].map((z) => z * noise.sigmaMarkMm));
  });
  const { widthPx, heightPx } = scene.camera;
  return scene.photos.flatMap(({ lens, stand }, photoIndex) => {
    const frame = cameraFrame(stand);
    const pixels = random.fork(`pixels ${photoIndex}`);
    const see = (x: number, y: number) => {
      const height = boardHeight(scene.board.shape, x, y) + (noise.extraHeightMm?.(x, y) ?? 0);
      const seen = pixelFromBoard(lens, frame, x, y, height);
      if (!seen) throw new RangeError('the camera does not look toward the board');
      return noise.editedPixel?.(seen[0], seen[1], photoIndex) ?? seen;
    };
    return placements.flatMap(({ places, turnRad, shiftMm, machine }, placement) => {
      const [c, s] = [Math.cos(turnRad), Math.sin(turnRad)];
      const land = (place: MarkedPlace, ahead: number, [offX, offY]: readonly number[]) => {
        const [dx, dy] = place.runsAlong === 'x' ? [ahead, 0] : [0, ahead];
        const [x, y] = landedPosition(
          machine ?? scene.machine,
          place.xMm + dx!,
          place.yMm + dy!,
          place.approachX,
          place.approachY,
          place.elapsed,
        );
        const [markX, markY] = [x + offX!, y + offY!];
        return see(c * markX - s * markY + shiftMm[0], s * markX + c * markY + shiftMm[1]);
      };
      return places.flatMap((place, index): PlacementObservation[] => {
        const off = onBoard[placement]![index]!;
        const [u0, v0] = land(place, 0, off);
        const [u, v] = [u0 + noise.sigmaPx * pixels.normal(), v0 + noise.sigmaPx * pixels.normal()];
        if (u < 0 || v < 0 || u > widthPx - 1 || v > heightPx - 1) return [];
        const [from, to] = [land(place, -REACH_MM, off), land(place, REACH_MM, off)];
        const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
        const [alongU, alongV] = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
        return [{ photoIndex, placement, place: index, u, v, alongU, alongV }];
      });
    });
  });
}
