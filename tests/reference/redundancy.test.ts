/**
 * Redundancy numbers against the definition: with every offset carried along as an unknown of its own, what an
 * observation foretells of itself is its diagonal element of A (AᵀPA)⁻¹ AᵀP, from a general library's inverse.
 */

import { inverse, Matrix } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { gridProgram } from '../../samples/index.js';
import { adjust } from '../../src/network/index.js';
import { residualQuality } from '../../src/network/residual-quality.js';
import { weightOf } from '../../src/network/stochastic.js';
import { unwrap } from '../../src/quantity/index.js';
import { simulateNetwork } from '../simulation/simulated-network.js';

const PLACES_MM = (count: number) => Array.from({ length: count }, (_, i) => 120 * i);
const { strokes } = gridProgram({ xMm: PLACES_MM(5), yMm: PLACES_MM(4) });
/** Jacobi-scaled normals of such sets lose some eight digits. */
const DIGITS = 6;

/** One equation: slopes by unknown, and its standard deviation. */
interface Equation {
  readonly slopes: ReadonlyMap<number, number>;
  readonly sigma: number;
}

describe('redundancy numbers', () => {
  const { input } = simulateNetwork({
    seed: 11,
    sigmaPx: 0.05,
    sigmaMarkMm: 0.02,
    strokes,
    focalKnown: true,
    taped: true,
    scene: { rolls: [0, 90, 180], tiltDeg: [1, 8] },
  });
  const { network, linearised, stochastic, covariance, information, priorWeight } = unwrap(
    adjust(input),
  );
  const { table, observationsOf } = network;
  const { rows, byOffset, extra, residual } = linearised;
  const n = table.size;
  const size = n + input.segments.length;
  const slopesOf = (from: typeof rows, i: number) => {
    const slopes = new Map<number, number>();
    for (let e = from.start[i]!; e < from.start[i + 1]!; e++) {
      const p = from.index[e]!;
      slopes.set(p, (slopes.get(p) ?? 0) + from.value[e]!);
    }
    return slopes;
  };
  const kept = input.observations.flatMap((_, i) =>
    weightOf(input, stochastic, i) > 0 ? [i] : [],
  );
  const observed = kept.map((i): Equation => {
    const { segment } = input.observations[i]!;
    const slopes = slopesOf(rows, i).set(n + segment, byOffset[i]!);
    return { slopes, sigma: 1 / Math.sqrt(weightOf(input, stochastic, i)) };
  });
  const offsets = input.segments.map(({ placement }, j): Equation => {
    return { slopes: new Map([[n + j, 1]]), sigma: stochastic.sigmaMarkMm[placement]! };
  });
  const evidence = Array.from(extra.residual, (_, k): Equation => {
    return { slopes: slopesOf(extra.rows, k), sigma: extra.sigma[k]! };
  });
  const priors = table.list.flatMap(({ priorSigma }, p): Equation[] =>
    Number.isFinite(priorSigma) ? [{ slopes: new Map([[p, 1]]), sigma: priorSigma }] : [],
  );
  const normal = Matrix.zeros(size, size);
  for (const { slopes, sigma } of [...observed, ...offsets, ...evidence, ...priors]) {
    for (const [p, a] of slopes) {
      for (const [q, b] of slopes) normal.set(p, q, normal.get(p, q) + (a * b) / sigma ** 2);
    }
  }
  const scale = normal.diagonal().map((one) => 1 / Math.sqrt(one));
  const scaled = Matrix.zeros(size, size);
  for (let p = 0; p < size; p++) {
    for (let q = 0; q < size; q++) scaled.set(p, q, normal.get(p, q) * scale[p]! * scale[q]!);
  }
  const inverted = inverse(scaled);
  const dispersion = (p: number, q: number) => inverted.get(p, q) * scale[p]! * scale[q]!;
  const redundancyOf = ({ slopes, sigma }: Equation) => {
    let variance = 0;
    for (const [p, a] of slopes) for (const [q, b] of slopes) variance += a * b * dispersion(p, q);
    return 1 - variance / sigma ** 2;
  };
  const quality = residualQuality(network, linearised, stochastic, {
    covariance,
    information,
    priorWeight,
  });

  it('of observations are those of the whole system', () => {
    expect(kept.length).toBeGreaterThan(50);
    kept.forEach((i, k) => {
      expect(quality.redundancy[i]).toBeCloseTo(redundancyOf(observed[k]!), DIGITS);
    });
  });

  it('of offsets are those of the whole system', () => {
    const seen = observationsOf.flatMap((list, j) => (list.some((i) => kept.includes(i)) ? j : []));
    for (const j of seen) {
      expect(quality.offsetRedundancy[j]).toBeCloseTo(redundancyOf(offsets[j]!), DIGITS);
    }
    expect(Math.max(...seen.map((j) => quality.offsetRedundancy[j]!))).toBeGreaterThan(0.1);
  });

  it('go with the covariance of the parameters', () => {
    for (let p = 0; p < n; p++) {
      expect(covariance[p * n + p]! / dispersion(p, p)).toBeCloseTo(1, DIGITS);
    }
  });

  it('go with what photos and evidence tell, beside what was believed', () => {
    // (information + priors) · covariance is one.
    for (const p of [0, 1, 2, 3, Math.floor(n / 2), n - 1]) {
      for (const q of [0, 1, 2, p]) {
        let [sum, size] = [priorWeight[p]! * covariance[p * n + q]!, p === q ? 1 : 0];
        for (let k = 0; k < n; k++) {
          sum += information[p * n + k]! * covariance[k * n + q]!;
          size += Math.abs(information[p * n + k]! * covariance[k * n + q]!);
        }
        expect(Math.abs(sum - (p === q ? 1 : 0))).toBeLessThanOrEqual(1e-8 * size);
      }
    }
  });

  it('belong to residuals that their offsets make as small as their weights allow', () => {
    // At the minimum the derivative by each offset is zero: pixels pull as hard as the mark's own place.
    for (const [j, list] of observationsOf.entries()) {
      let pull = -quality.offsetsMm[j]! / offsets[j]!.sigma ** 2;
      let size = Math.abs(pull);
      for (const i of list) {
        const part = weightOf(input, stochastic, i) * byOffset[i]! * quality.residualPx[i]!;
        pull += part;
        size += Math.abs(part);
      }
      expect(Math.abs(pull)).toBeLessThanOrEqual(1e-9 * size);
    }
    kept.forEach((i) => {
      const { segment } = input.observations[i]!;
      const left = residual[i]! - byOffset[i]! * quality.offsetsMm[segment]!;
      expect(quality.residualPx[i]).toBeCloseTo(left, 12);
    });
  });
});
