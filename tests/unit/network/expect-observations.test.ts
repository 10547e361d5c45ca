import { describe, expect, it } from 'vitest';
import { expectObservations } from '../../../src/network/expect-observations.js';
import { buildNetwork } from '../../../src/network/network.js';
import { simulateNetwork } from '../../simulation/simulated-network.js';

const { input } = simulateNetwork({
  sigmaPx: 0.05,
  sigmaMarkMm: 0.02,
  focalKnown: true,
  taped: false,
  seed: 3,
  scene: { rolls: [30], tiltDeg: [12, 12], lensState: 'corrected' },
});
const { network, state } = buildNetwork(input)!;
const all = input.segments.map((_, i) => i);
const seen = expectObservations(network, state, 0, all, 0.01);

describe('what a tilted, turned photo is expected to show', () => {
  it('is a place for each segment in view, and a normal of length one across its line', () => {
    expect(seen.length).toBeGreaterThan(300);
    const byLine = new Map<string, typeof seen>();
    for (const one of seen) {
      const { axis, line } = input.segments[one.segment]!;
      const key = `${axis} ${line}`;
      byLine.set(key, [...(byLine.get(key) ?? []), one]);
      expect(Math.hypot(one.normalU, one.normalV)).toBeCloseTo(1, 12);
    }
    // A line's own segments lie along it: the way from one to the next is across no normal.
    for (const own of byLine.values()) {
      for (const [i, next] of own.slice(1).entries()) {
        const { uPx, vPx, normalU, normalV } = own[i]!;
        const [du, dv] = [next.uPx - uPx, next.vPx - vPx];
        const across = (du * normalU + dv * normalV) / Math.hypot(du, dv);
        expect(Math.abs(across)).toBeLessThan(0.02);
      }
    }
  });
});
