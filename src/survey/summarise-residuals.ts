/** What is left between a photo's marks and the adjusted grid, small enough to be kept: a histogram, and a map over the picture. */

import type { ResidualRecord } from '../../shared/schemas/measurement.js';

export interface SeenResidual {
  /** In the stored picture, px. */
  readonly u: number;
  readonly v: number;
  /** Unit normal of the line there. */
  readonly normalU: number;
  readonly normalV: number;
  /** Observed minus computed along the normal, px; in units of what was expected of it. */
  readonly residualPx: number;
  readonly normalised: number;
}

/** Bars from -4 to 4 standard deviations; what is beyond counts in the outermost. */
const BARS = 16;
const REACH = 4;
/** Columns of the map along the picture's longer side. */
const MOST_COLUMNS = 12;
/** A mean of fewer is no mean. */
const FEWEST = 3;

/** @param all marks that were used. @returns undefined where there are none. */
export function summariseResiduals(
  all: readonly SeenResidual[],
  size: { readonly widthPx: number; readonly heightPx: number },
): ResidualRecord | undefined {
  if (all.length === 0) return undefined;
  const counts = new Array<number>(BARS).fill(0);
  for (const { normalised } of all) {
    const bar = Math.floor(((normalised + REACH) * BARS) / (2 * REACH));
    counts[Math.min(BARS - 1, Math.max(0, bar))]! += 1;
  }
  const cellPx = Math.max(size.widthPx, size.heightPx) / MOST_COLUMNS;
  const columns = Math.ceil(size.widthPx / cellPx - 1e-9);
  const rows = Math.ceil(size.heightPx / cellPx - 1e-9);
  const cells = Array.from({ length: columns * rows }, () => ({
    u: { sum: 0, count: 0 },
    v: { sum: 0, count: 0 },
  }));
  for (const { u, v, normalU, normalV, residualPx } of all) {
    const column = Math.min(columns - 1, Math.max(0, Math.floor(u / cellPx)));
    const row = Math.min(rows - 1, Math.max(0, Math.floor(v / cellPx)));
    // Of a line that runs down the picture the residual is across it, along the rows.
    const isAcross = Math.abs(normalU) > Math.abs(normalV);
    const sum = cells[row * columns + column]![isAcross ? 'u' : 'v'];
    sum.sum += residualPx * Math.sign(isAcross ? normalU : normalV);
    sum.count += 1;
  }
  const mean = ({ sum, count }: { sum: number; count: number }) =>
    count < FEWEST ? null : Number((sum / count).toFixed(4));
  return {
    counts,
    from: -REACH,
    to: REACH,
    map: { columns, rows, u: cells.map(({ u }) => mean(u)), v: cells.map(({ v }) => mean(v)) },
  };
}
