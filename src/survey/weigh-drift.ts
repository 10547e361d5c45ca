/** What crept while the grid was marked: a doubt, and what it adds to the uncertainty of the scales. */

import type { Measurement, Quantity } from '../../shared/schemas/measurement.js';
import type { Grid } from '../program/index.js';
import type { Finding } from '../quantity/index.js';
import { RECTANGULAR, widenQuantity } from './widen-quantity.js';

type Axis = 'x' | 'y';
type Scale = Measurement['scale'];

export interface WeighedDrift {
  /** With what the drift may have added to them in their uncertainty. */
  readonly scale: Scale;
  readonly findings: readonly Finding[];
}

/** Both axes are asked, of every measurement: beyond so many u one false alarm in two hundred. */
const CLEAR = 3;
/** A slope below this part of the drift over the grid is that of an order out and back. */
const PLAIN_SHARE = 0.1;

/**
 * Lines that are marked one after the other carry what creeps meanwhile as false scale; marked out and back
 * they do not. The order of marking says how much of a steady creep would pass for scale: the least-squares
 * slope of the time of marking over the place, counted from the first marks of the lines that were marked
 * again to the marks made again. Nobody knows that the creep was steady (lost steps come all at once), so
 * the value is not corrected: the slope is taken for half the width of a rectangular distribution (GUM
 * 4.3.7, type B).
 *
 * @param drift only where it exceeds three times its standard uncertainty anything is added.
 */
export function weighDrift(
  scale: Scale,
  drift: Readonly<Record<Axis, Quantity>>,
  grid: Pick<Grid, 'linesAtX' | 'linesAtY' | 'repeated'>,
): WeighedDrift {
  const added = { x: 0, y: 0 };
  const findings = (['x', 'y'] as const).flatMap((axis): Finding[] => {
    const quantity = drift[axis];
    if (quantity.state !== 'measured' || Math.abs(quantity.value) <= CLEAR * quantity.u) return [];
    const lines = axis === 'x' ? grid.linesAtX : grid.linesAtY;
    const perDrift = slopeOfOrder(lines, grid.repeated[axis]);
    const size = Math.abs(quantity.value);
    const halfWidth = size * Math.abs(perDrift);
    added[axis] = halfWidth / RECTANGULAR;
    const extent = lines.at(-1)!.positionMm - lines[0]!.positionMm;
    const isFelt = Math.abs(perDrift) * extent >= PLAIN_SHARE;
    return [describe(axis, quantity.value, isFelt ? halfWidth : 0)];
  });
  return {
    scale: {
      x: widenQuantity(scale.x, added.x, 'drift'),
      y: widenQuantity(scale.y, added.y, 'drift'),
      ratio: widenQuantity(scale.ratio, Math.hypot(added.x, added.y), 'drift'),
    },
    findings,
  };
}

/** Time of marking over place, 1/mm; the time from the first marks to those made again counts as 1. */
function slopeOfOrder(lines: Grid['linesAtX'], repeated: readonly number[]): number {
  const again = new Set(repeated);
  const ordered = lines.map(({ positionMm, strokes }) => {
    const first = strokes.filter((id) => !again.has(id));
    return { positionMm, at: mean(first), isAgain: first.length < strokes.length };
  });
  const duration = mean(repeated) - mean(ordered.filter((one) => one.isAgain).map(({ at }) => at));
  const middle = mean(ordered.map(({ positionMm }) => positionMm));
  let product = 0;
  let square = 0;
  for (const { positionMm, at } of ordered) {
    product += (positionMm - middle) * at;
    square += (positionMm - middle) ** 2;
  }
  return product / square / duration;
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

function describe(axis: Axis, value: number, inScale: number): Finding {
  const name = axis.toUpperCase();
  const sense = value > 0 ? '+' : '−';
  const consequence =
    inScale > 0
      ? `lines were marked in an order by which that may pass for up to ${(1000 * inScale).toFixed(2)} mm/m of scale ${name}; its uncertainty contains that`
      : `lines were marked out and back, so that a steady creep does not pass for scale ${name}`;
  return {
    code: 'MACHINE_DRIFTED',
    message: `marks at constant ${name} that were made again lie ${Math.abs(value).toFixed(3)} mm toward ${sense}${name}: steps may have been lost, or the machine may have warmed; ${consequence}`,
    hint: 'warm the machine up, look for lost steps, and mark again',
  };
}
