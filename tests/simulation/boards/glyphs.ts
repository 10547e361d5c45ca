/** Digits as polylines in a unit box, y upwards; for numbers printed in cells and along rulers. */

type Polyline = readonly (readonly [number, number])[];

const ROUND: Polyline = [
  [0.5, 1],
  [0.85, 0.85],
  [0.85, 0.15],
  [0.5, 0],
  [0.15, 0.15],
  [0.15, 0.85],
  [0.5, 1],
];

export const DIGITS: readonly (readonly Polyline[])[] = [
  [ROUND],
  [
    [
      [0.3, 0.8],
      [0.55, 1],
      [0.55, 0],
    ],
  ],
  [
    [
      [0.15, 0.8],
      [0.5, 1],
      [0.85, 0.75],
      [0.15, 0],
      [0.85, 0],
    ],
  ],
  [
    [
      [0.15, 1],
      [0.85, 1],
      [0.45, 0.6],
      [0.85, 0.3],
      [0.5, 0],
      [0.15, 0.15],
    ],
  ],
  [
    [
      [0.7, 0],
      [0.7, 1],
      [0.1, 0.3],
      [0.9, 0.3],
    ],
  ],
  [
    [
      [0.85, 1],
      [0.2, 1],
      [0.2, 0.55],
      [0.6, 0.6],
      [0.85, 0.3],
      [0.5, 0],
      [0.15, 0.1],
    ],
  ],
  [
    [
      [0.75, 1],
      [0.3, 0.7],
      [0.15, 0.25],
      [0.5, 0],
      [0.85, 0.3],
      [0.5, 0.55],
      [0.2, 0.4],
    ],
  ],
  [
    [
      [0.15, 1],
      [0.85, 1],
      [0.4, 0],
    ],
  ],
  [
    [
      [0.5, 1],
      [0.8, 0.78],
      [0.2, 0.3],
      [0.5, 0],
      [0.8, 0.3],
      [0.2, 0.78],
      [0.5, 1],
    ],
  ],
  [
    [
      [0.8, 0.6],
      [0.5, 0.45],
      [0.15, 0.7],
      [0.5, 1],
      [0.85, 0.75],
      [0.7, 0.3],
      [0.25, 0],
    ],
  ],
];

/** Distance from a point to a digit's strokes, in units of the box. */
export function distanceToDigit(digit: number, x: number, y: number): number {
  let best = Number.POSITIVE_INFINITY;
  for (const line of DIGITS[digit]!) {
    for (let k = 1; k < line.length; k++) {
      const [ax, ay] = line[k - 1]!;
      const [bx, by] = line[k]!;
      const [dx, dy] = [bx - ax, by - ay];
      const t = Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)));
      best = Math.min(best, Math.hypot(x - ax - t * dx, y - ay - t * dy));
    }
  }
  return best;
}
