/** How the placements of a board are turned against each other, and what that makes of the camera. */

import { isMeasuredOnBoard, type NetworkInput } from './network-input.js';

type Seen = Pick<NetworkInput, 'placements' | 'photos' | 'segments' | 'observations'>;

/**
 * What is marked twice with such a turn between, or more, tells squareness and scale ratio by itself. Boards
 * that are laid back for fresh marks come to lie within a degree or two of where they were.
 */
export const LEAST_TURN_RAD = (4 * Math.PI) / 180;

/** What the largest turn between two placements is worth: |sin|, 1 for a quarter turn, 0 for half a turn. */
export function turnOfPlacements(input: Seen): number {
  const turns = turnsInPhotos(input);
  let most = 0;
  for (const [i, turn] of turns.entries()) {
    for (const other of turns.slice(0, i)) most = Math.max(most, Math.abs(Math.sin(turn - other)));
  }
  return most;
}

export function isTurned(input: Seen): boolean {
  return turnOfPlacements(input) >= Math.sin(LEAST_TURN_RAD);
}

/** Whether some placements lie half a turn apart, and none otherwise turned. */
export function isTurnedByHalf(input: Seen): boolean {
  const turns = turnsInPhotos(input);
  return !isTurned(input) && turns.some((turn) => Math.cos(turn - turns[0]) < 0);
}

/**
 * Whether nothing is believed of the cameras' shape: where a turned board makes that unnecessary, or where
 * it is asked for. Every picture may then be any view of the board, smoothly bent.
 */
export function isCameraFree(input: Seen & Pick<NetworkInput, 'beliefs'>): boolean {
  const { camera, cameraTerms } = input.beliefs ?? {};
  if (cameraTerms !== undefined || input.photos.length === 0) return false;
  return camera === undefined ? isTurned(input) : camera === 'free';
}

/** Whether every picture has a bend of its own. */
export function isPictureBent(input: Seen & Pick<NetworkInput, 'beliefs'>): boolean {
  return isCameraFree(input) || (input.beliefs?.camera === 'bent' && input.photos.length > 0);
}

/** Of the placements that photos show: what was measured on the board itself has the instrument's frame. */
export function turnsInPhotos(input: Seen): number[] {
  const shown = new Set<number>();
  for (const seen of input.observations) {
    if (!isMeasuredOnBoard(input, seen)) shown.add(input.segments[seen.segment].placement);
  }
  return input.placements.flatMap(({ rotationRad }, i) => (shown.has(i) ? [rotationRad] : []));
}
