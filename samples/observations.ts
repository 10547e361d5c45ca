/** The network without its pictures: where marks appear in each photo, exactly or with noise. */

import type { Approach, Stroke } from '../shared/stroke.js';
import { landedPosition } from './machine-errors.js';
import { boardHeight, type CameraFrame, cameraFrame, pixelFromBoard } from './pinhole-view.js';
import { createRandomSource } from './random-source.js';
import { type PhotoPlan, photoPlan, type Scene } from './scene.js';

/** A point of a mark's centre line, as commanded. */
export interface CommandedPlace {
  readonly xMm: number;
  readonly yMm: number;
  readonly approachX: Approach;
  readonly approachY: Approach;
  /** How much of the program was done, 0 to 1; absent: nothing. */
  readonly elapsed?: number;
}

export interface SimulatedObservation extends CommandedPlace {
  readonly photoIndex: number;
  readonly photo: string;
  /** Index into the list of places. */
  readonly place: number;
  /** Sensor pixel; px. */
  readonly u: number;
  readonly v: number;
}

export interface ObservationNoise {
  /** Standard deviation of u and of v; px. */
  readonly sigmaPx: number;
  /** Standard deviation of each place on the board in X and in Y, the same in all photos; mm. */
  readonly sigmaMarkMm: number;
  readonly seed: number;
}

/**
 * The sensor pixel in which a mark's centre appears, without the wander of its edges.
 *
 * @returns [u, v]; px, whether or not it lies inside the frame.
 */
export function projectCommanded(
  scene: Scene,
  photoIndex: number,
  xMm: number,
  yMm: number,
  approachX: Approach,
  approachY: Approach,
): [number, number] {
  const plan = photoPlan(scene, photoIndex);
  const landed = landedPosition(scene.machine, xMm, yMm, approachX, approachY);
  return projectLanded(scene, plan, cameraFrame(plan.stand), landed);
}

/**
 * Observes places in every photo, those outside a frame left out.
 *
 * @param places in commanded positions; see `placesAlongStrokes`.
 */
export function simulateObservations(
  scene: Scene,
  places: readonly CommandedPlace[],
  noise: Partial<ObservationNoise> = {},
): SimulatedObservation[] {
  const { sigmaPx, sigmaMarkMm, seed } = {
    sigmaPx: 0,
    sigmaMarkMm: 0,
    seed: scene.seed,
    ...noise,
  };
  const random = createRandomSource(seed).fork('observations');
  const onBoard = random.fork('marks');
  const landed = places.map((place): [number, number] => {
    const [x, y] = landedPosition(
      scene.machine,
      place.xMm,
      place.yMm,
      place.approachX,
      place.approachY,
      place.elapsed,
    );
    return [x + sigmaMarkMm * onBoard.normal(), y + sigmaMarkMm * onBoard.normal()];
  });
  const observations: SimulatedObservation[] = [];
  scene.photos.forEach((plan, photoIndex) => {
    const frame = cameraFrame(plan.stand);
    const pixels = random.fork(`photo ${photoIndex}`);
    places.forEach((place, i) => {
      const seen = projectLanded(scene, plan, frame, landed[i]!);
      const u = seen[0] + sigmaPx * pixels.normal();
      const v = seen[1] + sigmaPx * pixels.normal();
      const { widthPx, heightPx } = scene.camera;
      if (u < 0 || v < 0 || u > widthPx - 1 || v > heightPx - 1) return;
      observations.push({ ...place, photoIndex, photo: plan.name, place: i, u, v });
    });
  });
  return observations;
}

/**
 * Places evenly along each stroke, none closer to its ends than half the spacing.
 *
 * @param spacingMm wished distance; a stroke shorter than it gets one place in its middle.
 */
export function placesAlongStrokes(
  strokes: readonly Stroke[],
  spacingMm: number,
): CommandedPlace[] {
  return strokes.flatMap(({ fromMm, toMm, approachX, approachY }) => {
    const lengthMm = Math.hypot(toMm[0] - fromMm[0], toMm[1] - fromMm[1]);
    const count = Math.max(1, Math.round(lengthMm / spacingMm));
    return Array.from({ length: count }, (_, i) => {
      const share = (i + 0.5) / count;
      return {
        xMm: fromMm[0] + share * (toMm[0] - fromMm[0]),
        yMm: fromMm[1] + share * (toMm[1] - fromMm[1]),
        approachX,
        approachY,
      };
    });
  });
}

function projectLanded(
  scene: Scene,
  plan: PhotoPlan,
  frame: CameraFrame,
  [x, y]: readonly [number, number],
): [number, number] {
  const seen = pixelFromBoard(plan.lens, frame, x, y, boardHeight(scene.board.shape, x, y));
  if (!seen) throw new RangeError(`photo ${plan.name} does not look toward the board`);
  return seen;
}
