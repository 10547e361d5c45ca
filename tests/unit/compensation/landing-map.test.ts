import { describe, expect, it } from 'vitest';
import { landingMap } from '../../../src/compensation/landing-map.js';
import { LINES_X, LINES_Y, landingTerms } from './landing-terms.js';

const ZERO = [0, 0] as const;

describe('where a command lands', () => {
  it('leans toward +X with Y where squareness is above 0, and the command goes back by as much', () => {
    const map = landingMap(landingTerms({ squarenessRad: 0.001 }), ZERO);
    expect(map.land([100, 200])[0]).toBeCloseTo(100.2, 9);
    expect(map.land([100, 200])[1]).toBeCloseTo(200, 9);
    expect(map.commandFor([100, 200])[0]).toBeCloseTo(99.8, 9);
    expect(map.commandFor([100, 200])[1]).toBeCloseTo(200, 9);
  });

  it('is too far where a scale is above 0', () => {
    const map = landingMap(landingTerms({ scaleX: 0.002, scaleY: -0.001 }), ZERO);
    expect(map.land([500, 500])[0]).toBeCloseTo(501, 9);
    expect(map.land([500, 500])[1]).toBeCloseTo(499.5, 9);
    expect(map.commandFor([501, 499.5])[0]).toBeCloseTo(500, 7);
    expect(map.commandFor([501, 499.5])[1]).toBeCloseTo(500, 7);
  });

  it('is shifted by the table of a line, and between lines by shares of both', () => {
    const tableX = LINES_X.map((at) => ({ at, value: at === 300 ? 0.06 : 0 }));
    const map = landingMap(landingTerms({ tableX }), ZERO);
    expect(map.land([300, 50])[0]).toBeCloseTo(300.06, 9);
    expect(map.land([225, 50])[0]).toBeCloseTo(225.03, 9);
    expect(map.land([225, 50])[1]).toBeCloseTo(50, 9);
  });

  it('is bent in Y by the straightness of X motion, and in X by that of Y motion', () => {
    // A parabola over lines evenly apart is a shape of the model but for its mean, which zero takes off.
    const bowX = LINES_X.map((at) => ({ at, value: (0.1 * (at - 450) ** 2) / 450 ** 2, u: 0.001 }));
    const inY = landingMap(landingTerms({ straightnessX: bowX }), ZERO);
    expect(inY.land([450, 0])[1]).toBeCloseTo(-0.1, 9);
    expect(inY.land([225, 300])[1]).toBeCloseTo(300 - 0.075, 9);
    expect(inY.land([450, 0])[0]).toBeCloseTo(450, 9);
    const bowY = LINES_Y.map((at) => ({ at, value: (0.1 * (at - 300) ** 2) / 300 ** 2, u: 0.001 }));
    const inX = landingMap(landingTerms({ straightnessY: bowY }), ZERO);
    expect(inX.land([0, 300])[0]).toBeCloseTo(-0.1, 9);
    expect(inX.land([0, 300])[1]).toBeCloseTo(300, 9);
  });

  it('is turned by a gantry that yaws: about the middle of the beam, which is the other axis for each', () => {
    const slope = (lines: readonly number[], middle: number) =>
      lines.map((at) => ({ at, value: 1e-6 * (at - middle), u: 1e-6 }));
    // Anticlockwise by 0.0003 rad at Y 600 and clockwise at Y 0: the +X end is 0.135 mm too high there.
    const alongY = landingMap(landingTerms({ yaw: slope(LINES_Y, 300) }), [450, 300]);
    expect(alongY.land([900, 600])[1]).toBeCloseTo(600 + 450 * 0.0003, 9);
    expect(alongY.land([900, 0])[1]).toBeCloseTo(-450 * 0.0003, 9);
    expect(alongY.land([900, 600])[0]).toBeCloseTo(900, 9);
    const terms = landingTerms({ gantryAxis: 'x', yaw: slope(LINES_X, 450) });
    const alongX = landingMap(terms, [450, 300]);
    expect(alongX.land([900, 600])[0]).toBeCloseTo(900 - 300 * 0.00045, 9);
    expect(alongX.land([900, 600])[1]).toBeCloseTo(600, 9);
  });

  it("leaves the program's zero where it is, wherever that lies", () => {
    const terms = landingTerms({
      squarenessRad: 0.001,
      scaleX: 0.002,
      tableX: LINES_X.map((at, k) => ({ at, value: 0.01 * k })),
    });
    for (const zero of [ZERO, [333, 222] as const, [-40, 700] as const]) {
      const [x, y] = landingMap(terms, zero).commandFor(zero);
      expect(Math.hypot(x - zero[0], y - zero[1])).toBeLessThan(1e-7);
    }
  });

  it('beyond the grid holds tables and bends at its edge while scale and squareness go on', () => {
    const tableX = LINES_X.map((at, k) => ({ at, value: k === 6 ? 0.05 : 0 }));
    const map = landingMap(landingTerms({ tableX, scaleX: 0.001, squarenessRad: 0.001 }), ZERO);
    expect(map.land([1000, 700])[0]).toBeCloseTo(1000 + 0.05 + 1 + 0.7 * 1.0005, 6);
    expect(map.land([1000, 700])[1]).toBeCloseTo(700, 9);
  });

  it('is met by the command for it, over the grid and beyond', () => {
    const map = landingMap(
      landingTerms({
        squarenessRad: -0.01,
        scaleX: 0.01,
        scaleY: -0.02,
        tableX: LINES_X.map((at, k) => ({ at, value: 0.1 * Math.sin(k) })),
        tableY: LINES_Y.map((at, k) => ({ at, value: 0.1 * Math.cos(k) })),
        yaw: LINES_Y.map((at) => ({ at, value: 1e-6 * (at - 300), u: 1e-6 })),
      }),
      [100, 100],
    );
    for (let x = -200; x <= 1100; x += 93) {
      for (let y = -200; y <= 800; y += 71) {
        const [landedX, landedY] = map.land(map.commandFor([x, y]));
        expect(Math.hypot(landedX - x, landedY - y)).toBeLessThan(1e-7);
      }
    }
  });
});
