/** Values at places along a travel: the straight line through them, and what lies between them. */

export interface PointAlong {
  readonly at: number;
  readonly value: number;
}

export interface LineThrough {
  /** Mean place, and mean value: a point of the line. */
  readonly middle: number;
  readonly mean: number;
  readonly slope: number;
}

/** Least squares, all points alike. @param points of two places at least; else the slope is no number. */
export function lineThrough(points: readonly PointAlong[]): LineThrough {
  const n = points.length;
  const middle = points.reduce((sum, { at }) => sum + at, 0) / n;
  const mean = points.reduce((sum, { value }) => sum + value, 0) / n;
  let square = 0;
  let product = 0;
  for (const { at, value } of points) {
    square += (at - middle) ** 2;
    product += (at - middle) * (value - mean);
  }
  return { middle, mean, slope: product / square };
}

/** Straight between the points, held beyond them; 0 where there are none. @param points ascending. */
export function interpolate(points: readonly PointAlong[], place: number): number {
  const next = points.findIndex(({ at }) => at >= place);
  if (next <= 0) return (points[next] ?? points.at(-1))?.value ?? 0;
  const [before, after] = [points[next - 1]!, points[next]!];
  const share = (place - before.at) / (after.at - before.at);
  return before.value + share * (after.value - before.value);
}
