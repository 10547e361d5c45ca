/** Deviations line by line, and squareness at the ends of the travel, from drawn machines. */
import { describe, expect, it } from 'vitest';
import { landedPosition } from '../../../samples/index.js';
import { readShapes } from '../../../src/correction/read-shape.js';
import { adjust, estimateMachine } from '../../../src/network/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import {
  type SimulatedNetworkOptions,
  simulateNetwork,
} from '../../simulation/simulated-network.js';

const PLAN: SimulatedNetworkOptions = {
  seed: 5,
  sigmaPx: 0.02,
  sigmaMarkMm: 0.01,
  focalKnown: true,
  taped: true,
  scene: { rolls: [0, 90, 180, 270], tiltDeg: [0, 2] },
};

describe('the deviations of lines', () => {
  it('show lost motion that grows along the travel, each line by its own marks', () => {
    const { input, truth } = simulateNetwork(PLAN);
    const places = input.layout.linesAtX;
    const middle = (places[0]! + places.at(-1)!) / 2;
    const more = (x: number) => 1e-4 * (x - middle);
    // What no term of the machine has: marks moved on the board by half of it, against their approach.
    const moved = input.observations.map((seen) => {
      const { axis, approach, xMm, yMm } = input.segments[seen.segment]!;
      if (axis !== 'x') return seen;
      const h = input.photos[seen.photo]!.homography;
      const at = (x: number, y: number) => {
        const w = h[6]! * x + h[7]! * y + h[8]!;
        return [(h[0]! * x + h[1]! * y + h[2]!) / w, (h[3]! * x + h[4]! * y + h[5]!) / w];
      };
      const [u0, v0] = at(xMm, yMm);
      const [u1, v1] = at(xMm - (approach * more(xMm)) / 2, yMm);
      return { ...seen, uPx: seen.uPx + u1! - u0!, vPx: seen.vPx + v1! - v0! };
    });
    const { deviations } = estimateMachine(unwrap(adjust({ ...input, observations: moved })));
    const own = deviations.filter(({ axis, rung }) => axis === 'x' && rung !== true);
    const inside = own.filter(({ commanded, forward, reverse, u }) => {
      const play = truth.lostMotion.x + more(commanded);
      return Math.abs(reverse! - forward! - play) < 3 * Math.SQRT2 * u;
    });
    expect(inside.length).toBeGreaterThanOrEqual(own.length - 1);
    const [shape] = readShapes(deviations, 'x').filter(
      ({ kind }) => kind === 'growing lost motion',
    );
    const grown = more(places.at(-1)!) - more(places[0]!);
    expect(Math.abs(shape!.sizeMm - grown)).toBeLessThan(2 * shape!.U);
    expect(shape!.atMm).toBe(places.at(-1));
  });

  it('have the slope of the true scale where a length was taped, and none where no length is known', () => {
    for (const taped of [true, false]) {
      const { input, truth } = simulateNetwork({ ...PLAN, taped });
      const { deviations, scale } = estimateMachine(unwrap(adjust(input)));
      for (const axis of ['x', 'y'] as const) {
        const own = deviations.filter((one) => one.axis === axis && one.forward !== undefined);
        const mean = own.reduce((sum, { commanded }) => sum + commanded, 0) / own.length;
        const slope =
          own.reduce((sum, one) => sum + (one.commanded - mean) * one.forward!, 0) /
          own.reduce((sum, one) => sum + (one.commanded - mean) ** 2, 0);
        // Single lines lie off by hundredths over half a metre; the tape has its U.
        const { state } = scale[axis];
        expect(state).toBe(taped ? 'measured' : 'undetermined');
        const U = 'U' in scale[axis] ? scale[axis].U : 2e-4;
        expect(Math.abs(slope - (taped ? truth.scale[axis] : 0))).toBeLessThan(U);
        expect(Math.abs(truth.scale[axis])).toBeGreaterThan(U);
      }
    }
  });
});

describe.each(['x', 'y'] as const)(
  'squareness at the ends of the travel of a gantry along %s',
  (gantryAxis) => {
    it('is how the other axis leans there', () => {
      const { input, scene } = simulateNetwork({
        ...PLAN,
        sigmaMarkMm: 0.002,
        scene: { ...PLAN.scene, gantryAxis },
        errors: (drawn) => ({
          ...drawn,
          squarenessRad: 1e-3,
          yaw: { ...drawn.yaw, legendre: [0, 6e-4] },
        }),
      });
      const { racking } = estimateMachine(unwrap(adjust(input)));
      const { linesAtX, linesAtY } = input.layout;
      const [x0, x1] = [linesAtX[0]!, linesAtX.at(-1)!];
      const [y0, y1] = [linesAtY[0]!, linesAtY.at(-1)!];
      const land = (x: number, y: number) => landedPosition(scene.machine, x, y, 0, 0, 0);
      // Right angle between beam and travel, by the simulator: the beam's direction at either end, the travel's in the middle.
      const leanAt = (place: number) => {
        if (gantryAxis === 'y') {
          const [left, right] = [land(x0, place), land(x1, place)];
          const beam = (right[1] - left[1]) / (x1 - x0);
          const [low, high] = [land((x0 + x1) / 2, y0), land((x0 + x1) / 2, y1)];
          return (high[0] - low[0]) / (y1 - y0) + beam;
        }
        const [low, high] = [land(place, y0), land(place, y1)];
        const beam = (high[0] - low[0]) / (y1 - y0);
        const [left, right] = [land(x0, (y0 + y1) / 2), land(x1, (y0 + y1) / 2)];
        return beam + (right[1] - left[1]) / (x1 - x0);
      };
      const ends = gantryAxis === 'y' ? [y0, y1] : [x0, x1];
      const told = racking.squarenessAtEnds!;
      // Guides' own bends and single lines turn it by some hundredths of a millimetre per metre.
      for (const [i, end] of ends.entries()) {
        expect(Math.abs(told[i]!.value - leanAt(end))).toBeLessThan(1.5e-4);
      }
      expect(Math.abs(told[1]!.value - told[0]!.value)).toBeGreaterThan(8e-4);
    });
  },
);
