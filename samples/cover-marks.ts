/** How much of a pixel's footprint the marks near it cover. */

import { INDEX_CELL_MM, type MarkIndex, PAD_SAMPLES, SAMPLE_MM } from './mark-profile.js';

/** Shares 0 to 1; `shade` is a relative change of brightness and may be negative. */
export interface MarkCover {
  burnt: number;
  halo: number;
  shade: number;
  chalk: number;
}

/** Brightness of a groove's floor under raking light, against the board's surface. */
const GROOVE_FLOOR = -0.3;

/**
 * Finds the marks' share at a place.
 *
 * @param lampMm where the raking light stands.
 * @param spreadMm standard deviation of blur and pixel together, on the board.
 * @param cover receives the result.
 * @returns false where no mark is near; `cover` is then left as it was.
 */
export function coverMarks(
  index: MarkIndex,
  lampMm: readonly [number, number],
  x: number,
  y: number,
  spreadMm: number,
  cover: MarkCover,
): boolean {
  const column = Math.floor((x - index.originMm[0]) / INDEX_CELL_MM);
  const row = Math.floor((y - index.originMm[1]) / INDEX_CELL_MM);
  if (column < 0 || row < 0 || column >= index.columns || row >= index.rows) return false;
  const cell = row * index.columns + column;
  const from = index.first[cell]!;
  const to = index.first[cell + 1]!;
  if (from === to) return false;

  const { style, marks, list } = index;
  const soft = Math.sqrt(spreadMm * spreadMm + style.edgeSoftnessMm * style.edgeSoftnessMm);
  let clear = 1;
  let unscorched = 1;
  let bare = 1;
  let shade = 0;
  for (let i = from; i < to; i++) {
    const mark = marks[list[i]!]!;
    const [alongX, alongY] = mark.direction;
    const dx = x - mark.startMm[0];
    const dy = y - mark.startMm[1];
    const along = dx * alongX + dy * alongY;
    const across = -dx * alongY + dy * alongX;
    const place = Math.min(mark.sampleCount - 1.001, Math.max(0, along / SAMPLE_MM + PAD_SAMPLES));
    const sample = place | 0;
    const share = place - sample;
    const at = 4 * sample;
    const { samples } = mark;
    const left = samples[at]! + share * (samples[at + 4]! - samples[at]!);
    const right = samples[at + 1]! + share * (samples[at + 5]! - samples[at + 1]!);
    const strength = samples[at + 2]! + share * (samples[at + 6]! - samples[at + 2]!);
    const ends =
      normalShare((along + 0.1) / soft) * normalShare((mark.lengthMm + 0.1 - along) / soft);
    const inside = normalShare((left - across) / soft) - normalShare((right - across) / soft);
    if (style.kind === 'burnt') {
      clear *= 1 - strength * ends * inside;
      const halo = samples[at + 3]! + share * (samples[at + 7]! - samples[at + 3]!);
      const far = Math.hypot(
        Math.max(0, right - across, across - left),
        Math.max(0, -along, along - mark.lengthMm),
      );
      const reach = style.haloMm * style.haloMm + spreadMm * spreadMm;
      unscorched *= 1 - halo * Math.exp((-0.5 * far * far) / reach);
    } else if (style.kind === 'chalk') {
      bare *= 1 - strength * ends * inside;
    } else {
      const middle = normalShare(((left + right) / 2 - across) / soft);
      const leftWall = normalShare((left - across) / soft) - middle;
      const rightWall = middle - normalShare((right - across) / soft);
      const toLampX = lampMm[0] - x;
      const toLampY = lampMm[1] - y;
      const facing = (-toLampX * alongY + toLampY * alongX) / Math.hypot(toLampX, toLampY, 1);
      // The wall on the right of the groove looks to the left and the other way round.
      const walls = facing * (rightWall - leftWall);
      shade += strength * ends * (walls + GROOVE_FLOOR * inside);
    }
  }
  cover.burnt = 1 - clear;
  cover.halo = 1 - unscorched;
  cover.shade = Math.min(1.2, Math.max(-0.9, shade));
  cover.chalk = 1 - bare;
  return true;
}

const NORMAL_REACH = 5;
const NORMAL_STEPS_PER_UNIT = 1024;
const NORMAL_SHARES = normalTable();

/** The normal distribution's share below z. */
function normalShare(z: number): number {
  if (z >= NORMAL_REACH) return 1;
  if (z <= -NORMAL_REACH) return 0;
  const place = (z + NORMAL_REACH) * NORMAL_STEPS_PER_UNIT;
  const at = place | 0;
  const low = NORMAL_SHARES[at]!;
  return low + (place - at) * (NORMAL_SHARES[at + 1]! - low);
}

/** Simpson's rule from the middle outward: exact to 1e-14 at this step, and odd about the middle. */
function normalTable(): Float64Array {
  const half = NORMAL_REACH * NORMAL_STEPS_PER_UNIT;
  const table = new Float64Array(2 * half + 2);
  const density = (z: number) => Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI);
  const step = 1 / NORMAL_STEPS_PER_UNIT;
  let sum = 0;
  table[half] = 0.5;
  for (let i = 1; i <= half + 1; i++) {
    const z = i * step;
    sum += (step / 6) * (density(z - step) + 4 * density(z - step / 2) + density(z));
    table[half + i] = 0.5 + sum;
    if (i <= half) table[half - i] = 0.5 - sum;
  }
  return table;
}
