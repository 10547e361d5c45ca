/** Whether two results say the same: text alike, numbers to a tolerance; what the clock tells is passed over. */

/** When it was measured, and how long that took. */
const BY_THE_CLOCK = new Set(['measuredAt', 'seconds']);

/** Share by which numbers may differ: rounding, where sums are taken in another order. */
const SAME = 1e-9;

/** The keys under which they differ, with both values. */
export function differences(a: unknown, b: unknown, key = ''): string[] {
  if (typeof a === 'number' && typeof b === 'number') {
    return isSame(a, b) ? [] : [`${key}: ${a}, ${b}`];
  }
  if (!isTree(a) || !isTree(b)) return a === b ? [] : [`${key}: ${a}, ${b}`];
  const keys = [...new Set([...Object.keys(a), ...Object.keys(b)])];
  return keys
    .filter((name) => !BY_THE_CLOCK.has(name))
    .flatMap((name) => differences(a[name], b[name], `${key}.${name}`));
}

function isSame(a: number, b: number): boolean {
  return Math.abs(a - b) <= SAME * Math.max(Math.abs(a), Math.abs(b));
}

function isTree(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null;
}
