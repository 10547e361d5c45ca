/** Part of a list, from all over it. */

/**
 * About so many of a list, in its order, drawn without the regularity that would leave out every place of a pattern
 * in it: multiples of the golden ratio (Knuth, The Art of Computer Programming 3, 6.4, multiplicative hashing).
 *
 * @param most the list itself where it is no longer.
 */
export function drawEvenly<T>(all: readonly T[], most: number): readonly T[] {
  if (all.length <= most) return all;
  const limit = (most / all.length) * 2 ** 32;
  return all.filter((_, i) => Math.imul(i, 0x9e3779b1) >>> 0 < limit);
}
