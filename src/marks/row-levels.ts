/**
 * Grain that crosses a mark: every short stretch along it has a brightness of its own, read beside the
 * mark. Where the pixels' rows run nearly along the mark, a stripe of grain always meets the same phase of the
 * profile, and without these levels it is taken for a ripple of the profile.
 */

import type { Strip } from './gather-strip.js';

/** Grey to add to the background, per ROW_PX along the strip; undefined where there is nothing to add. */
export type RowLevels = Float64Array | undefined;

/** As fine as two pixels' width: finer stripes hold too few pixels of background. */
const ROW_PX = 2;
/** Fewer pixels beside the mark than this tell no level. */
const FEWEST_BESIDE = 4;
/** Levels whose scatter is not this share grain (the rest noise) are left alone. */
const LEAST_GRAIN = 0.5;

export function measureRowLevels(
  { across, along, value, lengthPx }: Strip,
  background: Background & { readonly shiftPx: number },
  halfMarkPx: number,
): RowLevels {
  const rows = Math.max(1, Math.round(lengthPx / ROW_PX));
  const sums = new Float64Array(rows);
  const counts = new Float64Array(rows);
  let squares = 0;
  let total = 0;
  for (let i = 0; i < value.length; i++) {
    if (Math.abs(across[i] - background.shiftPx) < halfMarkPx) continue;
    const off =
      value[i] - background.level - background.across * across[i] - background.along * along[i];
    const row = rowAt(along[i], lengthPx, rows);
    sums[row] += off;
    counts[row]++;
    squares += off * off;
    total++;
  }
  let mean = 0;
  let filled = 0;
  let between = 0;
  for (let row = 0; row < rows; row++) {
    if (counts[row] < FEWEST_BESIDE) continue;
    sums[row] /= counts[row];
    between += counts[row] * sums[row] ** 2;
    mean += sums[row];
    filled++;
  }
  if (filled < 4 || total <= 2 * filled) return undefined;
  mean /= filled;
  // Analysis of variance: between the rows and within them.
  const within = Math.max(1 / 12, (squares - between) / (total - filled));
  const perRow = total / filled;
  const grain = Math.max(0, (between - total * mean * mean) / filled / perRow - within / perRow);
  const share = grain / (grain + within / perRow);
  if (!(share > LEAST_GRAIN)) return undefined;
  return sums.map((level, row) => (counts[row] < FEWEST_BESIDE ? 0 : share * (level - mean)));
}

/** A segment's background: a plane across and along the mark. */
export interface Background {
  readonly level: number;
  readonly across: number;
  readonly along: number;
}

/** Grey of the bare board at a place of the strip, the grain that crosses the mark included. */
export function lightAt(
  plane: Background,
  levels: RowLevels,
  across: number,
  along: number,
  lengthPx: number,
): number {
  const light = plane.level + plane.across * across + plane.along * along;
  return levels === undefined ? light : light + levels[rowAt(along, lengthPx, levels.length)];
}

/** Index of the row that holds a place along the strip. */
export function rowAt(along: number, lengthPx: number, rows: number): number {
  return Math.min(rows - 1, Math.max(0, Math.floor((along / lengthPx + 0.5) * rows)));
}
