import { describe, expect, it } from 'vitest';
import { matchGaps } from '../../../src/marks/match-gaps.js';

/** Lines of the program, mm; no four gaps in a row are another four, scaled, either way round. */
const POSITIONS = Float64Array.of(0, 30, 70, 120, 150, 210, 245, 305, 345, 380, 440, 490, 520);

function profileOf(at: readonly number[]): Float64Array {
  const profile = new Float64Array(1000);
  for (const place of at) {
    const b = Math.floor(place);
    profile[b] += 100 * (1 - place + b);
    profile[b + 1] += 100 * (place - b);
  }
  return profile;
}

describe('a sequence of uneven gaps', () => {
  const inView = [...POSITIONS.subarray(3, 10)];

  it('is found among the program’s, with its scale', () => {
    const [best] = matchGaps(profileOf(inView.map((mm) => 2.5 * mm - 100)), POSITIONS);
    expect(best.lines).toBe(7);
    expect(best.scale).toBeCloseTo(2.5, 1);
    expect(best.offset).toBeCloseTo(-100, -1);
  });

  it('is found read backwards', () => {
    const [best] = matchGaps(profileOf(inView.map((mm) => 980 - 2.5 * mm)), POSITIONS);
    expect(best.scale).toBeCloseTo(-2.5, 1);
    expect(best.offset).toBeCloseTo(980, -1);
  });

  it('is found with one line not seen and one that is none', () => {
    const seen = inView.filter((mm) => mm !== 210).map((mm) => 2.5 * mm - 100);
    const [best] = matchGaps(profileOf([...seen, 2.5 * 275 - 100]), POSITIONS);
    expect(best.lines).toBe(6);
    expect(best.scale).toBeCloseTo(2.5, 1);
  });

  it('of four lines is no sequence', () => {
    expect(matchGaps(profileOf([100, 200, 330, 500]), POSITIONS)).toEqual([]);
  });
});
