/** Grooves under a lamp, on a board that was not turned by a quarter: what their walls add to squareness and ratio. */

import type { PhotoRecord, Quantity } from '../../shared/schemas/measurement.js';
import type { NetworkInput } from '../network/index.js';
import type { Finding } from '../quantity/index.js';
import { widenQuantity } from './widen-quantity.js';

/**
 * What the middles of two families of grooves may move against each other between the board's middle and its edge, in
 * widths of the groove; standard deviation. A wall toward the lamp is bright, the other one dark, and how much
 * changes along the board. On rendered boards turned by 45° and 60° it came to 0.01 to 0.04.
 */
const WALLS_SHIFT = 0.04;
/** Less than this part of its u does not move a quantity. */
const FELT = 0.1;

export interface WeighedShading {
  readonly squareness: Quantity;
  readonly ratio: Quantity;
  readonly findings: readonly Finding[];
}

/**
 * Light moves the apparent middle of a groove across it, by an amount that depends on the groove's direction. After a
 * quarter turn both grids have the same two directions, so that it is no difference between them; after any other
 * turn it passes for squareness and for the ratio of the scales. By how much is not known: it is added to u, as
 * the sine of what the turn misses a quarter by.
 */
export function weighShading(
  { squareness, ratio }: { readonly squareness: Quantity; readonly ratio: Quantity },
  { placements, layout }: Pick<NetworkInput, 'placements' | 'layout'>,
  photos: readonly PhotoRecord[],
): WeighedShading {
  const widthMm = grooveWidth(photos);
  if (widthMm === undefined) return { squareness, ratio, findings: [] };
  // Any two that miss it by least tell the most.
  const [first, ...others] = placements.map(({ rotationRad }) => rotationRad);
  const missed = Math.min(...others.map((one) => missesQuarter(one - first)));
  const half = Math.min(...[layout.linesAtX, layout.linesAtY].map(spanOf)) / 2;
  const added = ((WALLS_SHIFT * widthMm) / half) * Math.SQRT2 * Math.sin(missed);
  const isFelt = [squareness, ratio].some(
    (one) => one.state !== 'undetermined' && added > FELT * one.u,
  );
  return {
    squareness: widenQuantity(squareness, added, 'marks'),
    ratio: widenQuantity(ratio, added, 'marks'),
    findings: isFelt ? [describe(missed, added)] : [],
  };
}

/** Of marks that are neither dark nor bright; mm. The widest, where photos differ. */
function grooveWidth(photos: readonly PhotoRecord[]): number | undefined {
  const widths = photos.flatMap(({ used, polarity, verdict }) => {
    const mmPerPx = verdict?.coverage?.mmPerPx;
    if (!used || polarity !== 'mixed' || mmPerPx === undefined) return [];
    return (verdict?.marks ?? []).map(({ widthPx }) => widthPx * mmPerPx);
  });
  return widths.length === 0 ? undefined : Math.max(...widths);
}

function spanOf(lines: readonly number[]): number {
  return lines[lines.length - 1] - lines[0];
}

/** From the nearest quarter turn, half turns counted in, rad; 0 to π/4. */
function missesQuarter(rotationRad: number): number {
  const quarter = Math.PI / 2;
  return Math.abs(rotationRad - quarter * Math.round(rotationRad / quarter));
}

function describe(missedRad: number, added: number): Finding {
  const degrees = ((missedRad * 180) / Math.PI).toFixed(missedRad < 0.1 ? 1 : 0);
  return {
    code: 'GROOVES_SHADED',
    message: `the marks are grooves with a bright and a dark wall, and the board was turned ${degrees}° off a quarter turn: what the light does to each direction may pass for ${(2000 * added).toFixed(3)} mm/m of squareness and of the ratio of the scales; their U contains that`,
    hint: 'turn the board by a quarter turn, to a degree: then it cancels; or mark with a laser or a pen, or photograph under an even sky',
  };
}
