/** A turned board in several photos: what the photos say by themselves, held against what the turn says. */

import type { EvidenceRecord, MethodRecord, Quantity } from '../../shared/schemas/measurement.js';
import { type Adjustment, compareMethods, type MachineEstimates } from '../network/index.js';

export interface WeighedMethods {
  readonly estimates: MachineEstimates;
  readonly others: readonly MethodRecord[];
  readonly evidence: readonly EvidenceRecord[];
}

/** One photo says nothing by itself. */
const FEWEST_PHOTOS = 2;

/**
 * Straightness comes from the photos where they measure it and the turn leaves it weak: both axes, for their curves were
 * fitted together.
 */
export function weighMethods(
  adjustment: Adjustment,
  estimates: MachineEstimates,
  photos: number,
): WeighedMethods {
  const compared = photos < FEWEST_PHOTOS ? undefined : compareMethods(adjustment);
  if (compared === undefined) return { estimates, others: [], evidence: [] };
  const { squareness, ratio, ofPhotos } = compared;
  const told = ([what, { turned, photos: given, En }]: readonly [string, typeof squareness]) =>
    En === undefined ? [] : [evidenceOf(`${what} by the photos alone`, given, turned, En)];
  const isBetter = Object.values(ofPhotos.straightness).every(({ state }) => state === 'measured');
  const isOpen = Object.values(estimates.straightness).some(({ state }) => state !== 'measured');
  return {
    estimates: isBetter && isOpen ? { ...estimates, ...ofPhotos } : estimates,
    others: [{ method: 'photos', used: false, squareness: squareness.photos, ratio: ratio.photos }],
    evidence: (
      [
        ['squareness', squareness],
        ['ratio of the scales', ratio],
      ] as const
    ).flatMap(told),
  };
}

function evidenceOf(what: string, given: Quantity, adjusted: Quantity, En: number): EvidenceRecord {
  if (given.state === 'undetermined' || adjusted.state === 'undetermined') {
    throw new Error('compared without a value');
  }
  const unit = given.unit === 'rad' ? 'rad' : '1';
  return {
    what,
    given: given.value,
    adjusted: adjusted.value,
    unit,
    u: given.u,
    En,
    byPhotosAlone: true,
  };
}
