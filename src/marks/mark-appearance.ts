/** What the marks look like at full size, averaged over each family, and where their middle is. */

import type { GreyImage } from '../quantity/index.js';
import { type ImageMap, imageFromCommanded } from './image-map.js';
import { compose } from './placement-turns.js';
import type { ProgramGrid } from './program-grid.js';

export interface MarkAppearance {
  readonly polarity: 'dark' | 'bright' | 'mixed';
  /** Full width at half depth; px. */
  readonly widthPx: number;
}

/** Widest half-window across a line; px. Marks are up to 30 px wide. */
const WIDEST_PX = 40;
/** Bins per px of the averaged profile. */
const FINE = 2;
/** A side lobe below this share of the main one is shading, not a second half of the mark. */
const LOBE = 0.45;

interface Profile {
  readonly polarity: MarkAppearance['polarity'];
  readonly widthPx: number;
  /** Middle of the mark towards larger x (lines along Y) or y; mm. */
  readonly middleMm: number;
}

/** Moves the map onto the middle of the averaged marks: the search may have held on to one flank. */
export function centreOnMarks(
  grey: GreyImage,
  map: ImageMap,
  grid: ProgramGrid,
): { map: ImageMap; appearance: MarkAppearance } {
  const profiles = [0, 1].map((f) => averageProfile(grey, map, grid, f as 0 | 1));
  const [x, y] = profiles;
  const polarity = x.polarity === y.polarity ? x.polarity : 'mixed';
  return {
    map: compose(map, [1, 0, x.middleMm, 0, 1, y.middleMm]),
    appearance: { polarity, widthPx: (x.widthPx + y.widthPx) / 2 },
  };
}

function averageProfile(grey: GreyImage, map: ImageMap, grid: ProgramGrid, family: 0 | 1): Profile {
  const pitch = grid.pitchMm[family];
  const step = 0.01 * pitch;
  const units = grid.units.filter((unit) => unit.family === family);
  const stride = Math.max(1, Math.floor(units.length / 800));
  const rows: Float64Array[] = [];
  let half = WIDEST_PX;
  const places: { u: number; v: number; nu: number; nv: number; perMm: number }[] = [];
  for (let i = 0; i < units.length; i += stride) {
    const unit = units[i];
    for (const t of [0.25, 0.4, 0.6, 0.75]) {
      const x = unit.x1 + t * (unit.x2 - unit.x1);
      const y = unit.y1 + t * (unit.y2 - unit.y1);
      const [u, v] = imageFromCommanded(map, x, y);
      const ahead =
        family === 0 ? imageFromCommanded(map, x, y + step) : imageFromCommanded(map, x + step, y);
      const beside =
        family === 0 ? imageFromCommanded(map, x + step, y) : imageFromCommanded(map, x, y + step);
      const length = Math.hypot(ahead[0] - u, ahead[1] - v);
      const nu = -(ahead[1] - v) / length;
      const nv = (ahead[0] - u) / length;
      const across = (beside[0] - u) * nu + (beside[1] - v) * nv;
      const sense = Math.sign(across);
      const perMm = Math.abs(across) / step;
      half = Math.min(half, 0.4 * perMm * pitch);
      places.push({ u, v, nu: sense * nu, nv: sense * nv, perMm });
    }
  }
  const reach = Math.max(3, Math.floor(half));
  const bins = 2 * reach * FINE + 1;
  let perMm = 0;
  for (const place of places) {
    const row = sampleAcross(grey, place, reach, bins);
    if (row === undefined) continue;
    rows.push(row);
    perMm += place.perMm;
  }
  if (rows.length === 0) return { polarity: 'dark', widthPx: 0, middleMm: 0 };
  perMm /= rows.length;
  const mean = new Float64Array(bins);
  const column = new Float64Array(rows.length);
  for (let b = 0; b < bins; b++) {
    for (let r = 0; r < rows.length; r++) column[r] = rows[r][b];
    column.sort();
    // The middle half of the values: covers and stains fall out.
    const from = rows.length >> 2;
    const to = Math.max(from + 1, rows.length - from);
    let sum = 0;
    for (let r = from; r < to; r++) sum += column[r];
    mean[b] = sum / (to - from);
  }
  return readProfile(mean, reach, perMm);
}

function sampleAcross(
  grey: GreyImage,
  place: { u: number; v: number; nu: number; nv: number },
  reach: number,
  bins: number,
): Float64Array | undefined {
  const row = new Float64Array(bins);
  let total = 0;
  for (let b = 0; b < bins; b++) {
    const o = b / FINE - reach;
    const u = place.u + o * place.nu;
    const v = place.v + o * place.nv;
    const x = Math.floor(u);
    const y = Math.floor(v);
    if (!(x >= 0 && y >= 0 && x < grey.width - 1 && y < grey.height - 1)) return undefined;
    const i = y * grey.width + x;
    const d = grey.data;
    const fx = u - x;
    const fy = v - y;
    row[b] =
      (d[i] * (1 - fx) + d[i + 1] * fx) * (1 - fy) +
      (d[i + grey.width] * (1 - fx) + d[i + grey.width + 1] * fx) * fy;
    total += row[b];
  }
  for (let b = 0; b < bins; b++) row[b] -= total / bins;
  return row;
}

function readProfile(mean: Float64Array, reach: number, perMm: number): Profile {
  const bins = mean.length;
  const outer = Math.max(2, Math.floor(bins / 6));
  const level = (from: number, to: number) => {
    const part = mean.slice(from, to).sort();
    return part[part.length >> 1];
  };
  const low = level(0, outer);
  const high = level(bins - outer, bins);
  const flat = mean.map((value, b) => value - low - ((high - low) * b) / (bins - 1));
  let dark = 0;
  let bright = 0;
  for (const value of flat) {
    dark = Math.max(dark, -value);
    bright = Math.max(bright, value);
  }
  const polarity = bright < LOBE * dark ? 'dark' : dark < LOBE * bright ? 'bright' : 'mixed';
  const strength = flat.map((value) =>
    polarity === 'dark'
      ? Math.max(0, -value)
      : polarity === 'bright'
        ? Math.max(0, value)
        : Math.abs(value),
  );
  const top = Math.max(...strength);
  if (top === 0) return { polarity, widthPx: 0, middleMm: 0 };
  let from = 0;
  while (strength[from] < top / 2) from++;
  let to = bins - 1;
  while (strength[to] < top / 2) to--;
  const cross = (a: number, b: number) =>
    (top / 2 - strength[a]) / (strength[b] - strength[a] || 1);
  const left = from > 0 ? from - 1 + cross(from - 1, from) : from;
  const right = to < bins - 1 ? to + 1 - cross(to + 1, to) : to;
  return {
    polarity,
    widthPx: (right - left) / FINE,
    middleMm: ((left + right) / 2 / FINE - reach) / perMm,
  };
}
