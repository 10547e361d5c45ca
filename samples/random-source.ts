/** Seeded random numbers, so that every scene can be made again from its seed. */

export interface RandomSource {
  /** Evenly spread over [0, 1). */
  uniform(): number;
  /** Evenly spread over [low, high). */
  between(low: number, high: number): number;
  /** Normal with mean 0 and standard deviation 1. */
  normal(): number;
  /** An independent source; the same label gives the same source again. */
  fork(label: string): RandomSource;
}

/**
 * Creates a source of random numbers.
 *
 * Generator: sfc32, a small chaotic counter generator (C. Doty-Humphrey, PractRand), seeded through
 * the finaliser of MurmurHash3 (A. Appleby). Normal numbers: polar method (Marsaglia, Bray 1964).
 */
export function createRandomSource(seed: number): RandomSource {
  return sourceFrom(mixBits(seed | 0) ^ mixBits(Math.floor(seed / 2 ** 32) | 0));
}

function sourceFrom(key: number): RandomSource {
  let a = mixBits(key ^ 0x9e3779b9);
  let b = mixBits(key ^ 0x243f6a88);
  let c = mixBits(key ^ 0xb7e15162);
  let counter = 1;
  let spare: number | undefined;

  const uniform = (): number => {
    const sum = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (((c << 21) | (c >>> 11)) + sum) | 0;
    return (sum >>> 0) / 2 ** 32;
  };
  // The first outputs still resemble the seed.
  for (let i = 0; i < 12; i++) uniform();

  const normal = (): number => {
    if (spare !== undefined) {
      const value = spare;
      spare = undefined;
      return value;
    }
    for (;;) {
      const x = 2 * uniform() - 1;
      const y = 2 * uniform() - 1;
      const square = x * x + y * y;
      if (square > 0 && square < 1) {
        const factor = Math.sqrt((-2 * Math.log(square)) / square);
        spare = y * factor;
        return x * factor;
      }
    }
  };

  return {
    uniform,
    normal,
    between: (low, high) => low + (high - low) * uniform(),
    fork: (label) => sourceFrom(hashText(label, key)),
  };
}

function hashText(text: string, start: number): number {
  let hash = mixBits(start ^ text.length);
  for (let i = 0; i < text.length; i++) hash = mixBits(Math.imul(hash, 31) ^ text.charCodeAt(i));
  return hash;
}

function mixBits(value: number): number {
  let bits = value | 0;
  bits = Math.imul(bits ^ (bits >>> 16), 0x85ebca6b);
  bits = Math.imul(bits ^ (bits >>> 13), 0xc2b2ae35);
  return bits ^ (bits >>> 16);
}
