/** Seeded random numbers and smooth noise for drawn pictures. */

export type Random = () => number;

/** Mulberry32: small, seeded, good enough for pictures. */
export function randomFrom(seed: number): Random {
  let state = (seed * 0x9e3779b1) >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** Value noise, about -1..1, one hump per unit. */
export function smoothNoise(random: Random): (x: number, y: number) => number {
  const size = 256;
  const table = Float32Array.from({ length: size * size }, () => 2 * random() - 1);
  return (x, y) => {
    const i = Math.floor(x);
    const j = Math.floor(y);
    const a = x - i;
    const c = y - j;
    const i0 = i & 255;
    const i1 = (i + 1) & 255;
    const j0 = (j & 255) * size;
    const j1 = ((j + 1) & 255) * size;
    return (
      (table[j0 + i0] * (1 - a) + table[j0 + i1] * a) * (1 - c) +
      (table[j1 + i0] * (1 - a) + table[j1 + i1] * a) * c
    );
  };
}

export function between(random: Random, low: number, high: number): number {
  return low + (high - low) * random();
}

export function pick<T>(random: Random, from: readonly T[]): T {
  return from[Math.min(from.length - 1, Math.floor(random() * from.length))]!;
}
