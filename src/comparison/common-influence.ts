/**
 * What both measurements have in common, so that their errors are not independent: the camera, the tape. Where an
 * error enters both alike it drops out of their difference, and the root of the sum of squares is cautious.
 */

import type { CommonInfluence, ComparedName } from '../../shared/schemas/comparison.js';
import type { Estimate, Measurement } from '../../shared/schemas/measurement.js';
import { quantitiesByKey } from '../quantity/index.js';

/** Share of the variance below which common errors make less than a twentieth of U of the change. */
const LEAST_SHARE = 0.1;

export function commonInfluences(
  before: Measurement,
  after: Measurement,
  what: ComparedName,
): CommonInfluence[] {
  const [first, second] = [quantitiesByKey(before)[what], quantitiesByKey(after)[what]];
  if (first.state === 'undetermined' || second.state === 'undetermined') return [];
  const rest = (part: 'camera' | 'evidence') =>
    [first, second].every((one: Estimate) => (one.share?.[part] ?? 0) >= LEAST_SHARE);
  const isScale = what === 'scale.x' || what === 'scale.y';
  const found: CommonInfluence[] = [];
  if (rest('camera') && isSameCamera(before, after)) found.push(ofCamera(before, after));
  if (isScale && rest('evidence') && isTaped(before) && isTaped(after)) found.push(OF_TAPE);
  return found;
}

/** A phone whose software names no model may be any. */
function isSameCamera(before: Measurement, after: Measurement): boolean {
  return before.camera.some((one) =>
    after.camera.some(
      (other) =>
        one.model !== undefined &&
        one.model === other.model &&
        one.make === other.make &&
        one.widthPx === other.widthPx &&
        one.heightPx === other.heightPx,
    ),
  );
}

function ofCamera(before: Measurement, after: Measurement): CommonInfluence {
  const [first, second] = [quarterTurns(before), quarterTurns(after)];
  const isAlike = first !== '' && first === second;
  return {
    influence: 'camera',
    cautious: isAlike,
    why: isAlike
      ? 'both rest on one kind of camera, held at the same quarter turns: what it adds enters both alike, and U of the change, taken as if they were independent, is rather too large'
      : 'both rest on one kind of camera, held, as far as is known, at other quarter turns: what it adds may enter with the other sign, and U of the change, taken as if they were independent, may be too small, up to the sum of both U; take the photos at the same turns of the phone',
  };
}

/** Which quarter turns of the sensor occur, as a key; in step with the board's X. */
function quarterTurns({ photos }: Measurement): string {
  const turns = photos
    .filter(({ used, rollRad }) => used && rollRad !== undefined)
    .map(({ rollRad }) => (((Math.round(rollRad! / (Math.PI / 2)) % 4) + 4) % 4).toString());
  return [...new Set(turns)].sort().join(' ');
}

function isTaped({ evidence }: Measurement): boolean {
  return evidence.some(({ unit }) => unit === 'mm');
}

const OF_TAPE: CommonInfluence = {
  influence: 'tape',
  cautious: true,
  why: "both rest on a known length: if it was the same tape, the tape's own error is in both and drops out of the change, and U, taken as if they were independent, is rather too large; with another tape it is right",
};
