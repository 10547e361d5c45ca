/** Lines of a file that lie elsewhere than all others foretell, in words. */

/** Outlying lines that are named one by one; the rest are counted. */
const MOST_NAMED = 5;

/** @param out by how much each line, in the unit. */
export function nameOutlyingLines(
  out: ReadonlyMap<number, number>,
  unit: 'mm' | 'px',
  decimals: number,
): string {
  const worst = [...out].sort(([, a], [, b]) => b - a);
  const named = worst
    .slice(0, MOST_NAMED)
    .map(([line, size]) => `line ${line} by ${size.toFixed(decimals)} ${unit}`);
  const more = worst.length - named.length;
  return `${named.join(', ')}${more > 0 ? ` and ${more} more` : ''}`;
}
