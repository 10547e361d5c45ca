import { describe, expect, it } from 'vitest';
import type { PhotoRecord, Quantity } from '../../../shared/schemas/measurement.js';
import { weighShading } from '../../../src/survey/weigh-shading.js';

const told = (u: number): Quantity => ({
  state: 'measured',
  value: 4e-4,
  u,
  U: 2 * u,
  k: 2,
  unit: 'rad',
});
const LINES = [0, 50, 100, 150, 200, 250, 300, 350, 400];
const degrees = (turn: number) => (turn * Math.PI) / 180;

/** Grooves 5 px wide at 0.2 mm per px: 1 mm; the grid reaches 200 mm to either side of its middle. */
function weighed(turnDegrees: number, polarity: PhotoRecord['polarity'] = 'mixed') {
  const photo = {
    file: 'p.jpg',
    used: true,
    polarity,
    verdict: { coverage: { mmPerPx: 0.2 }, marks: [{ axis: 'x', widthPx: 5 }] },
  } as unknown as PhotoRecord;
  const network = {
    placements: [
      { rotationRad: 0, shiftMm: [0, 0] as const },
      { rotationRad: degrees(turnDegrees), shiftMm: [0, 0] as const },
    ],
    layout: { linesAtX: LINES, linesAtY: LINES, gantryAxis: 'y' as const },
  };
  const { squareness, findings } = weighShading(
    { squareness: told(1e-5), ratio: told(1e-5) },
    network,
    [photo],
  );
  if (squareness.state === 'undetermined') throw new Error('it was told');
  return { u: squareness.u, U: squareness.U, codes: findings.map(({ code }) => code) };
}

describe('grooves with a bright and a dark wall', () => {
  it('add 0.04 of their width over half the grid where the board was turned by 45°, of either sense', () => {
    // 0.04 × 1 mm / 200 mm = 2e-4, beside 1e-5.
    for (const turn of [45, -45, 135]) {
      const { u, U, codes } = weighed(turn);
      expect(u).toBeCloseTo(Math.hypot(2e-4, 1e-5), 10);
      expect(U).toBe(2 * u);
      expect(codes).toEqual(['GROOVES_SHADED']);
    }
  });

  it('add nothing after a quarter turn to either side', () => {
    for (const turn of [90, -90, 270]) {
      expect(weighed(turn).u).toBeCloseTo(1e-5, 12);
      expect(weighed(turn).codes).toEqual([]);
    }
  });

  it('are no matter where the marks are plainly dark or bright', () => {
    for (const polarity of ['dark', 'bright'] as const) {
      expect(weighed(45, polarity)).toEqual({ u: 1e-5, U: 2e-5, codes: [] });
    }
  });
});
