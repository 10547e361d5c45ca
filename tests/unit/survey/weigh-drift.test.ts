import { describe, expect, it } from 'vitest';
import type { Quantity } from '../../../shared/schemas/measurement.js';
import { weighDrift } from '../../../src/survey/weigh-drift.js';
import { estimate } from '../report/make-measurement.js';

const OPEN: Quantity = { state: 'undetermined', reason: 'nothing was marked again', add: [] };
const SCALE = {
  x: estimate(1e-3, 6e-4, '1', { share: { photos: 0.25, marks: 0.25, evidence: 0.5, camera: 0 } }),
  y: estimate(-1e-3, 6e-4, '1'),
  ratio: estimate(2e-3, 8e-4, '1'),
};

/** Lines 50 mm apart, marked in this order; the first one is marked once more at the end. */
function grid(order: readonly number[]) {
  const again = order.length;
  const lines = order.map((_, k) => ({
    positionMm: 50 * k,
    strokes: k === 0 ? [order.indexOf(k), again] : [order.indexOf(k)],
    fromMm: 0,
    toMm: 200,
  }));
  return { linesAtX: lines, linesAtY: lines, repeated: { x: [again], y: [again] } };
}
const ONE_BY_ONE = grid([0, 1, 2, 3, 4]);

describe('drift of 0.1 mm on lines marked one after the other', () => {
  const { scale, findings } = weighDrift(
    SCALE,
    { x: estimate(0.1, 0.02, 'mm'), y: OPEN },
    ONE_BY_ONE,
  );

  it('adds a rectangular contribution to the scale: four fifths of it over 200 mm', () => {
    // A fifth of the time and 50 mm from line to line: 0.1 / 5 / 50 = 4e-4, divided by the root of 3.
    const added = 4e-4 / Math.sqrt(3);
    expect(scale.x).toMatchObject({ value: 1e-3, state: 'measured' });
    expect(scale.x.state !== 'undetermined' && scale.x.u).toBeCloseTo(Math.hypot(3e-4, added), 12);
    expect(scale.x.state !== 'undetermined' && scale.x.U).toBeCloseTo(
      2 * Math.hypot(3e-4, added),
      12,
    );
    expect(scale.ratio.state !== 'undetermined' && scale.ratio.u).toBeCloseTo(
      Math.hypot(4e-4, added),
      12,
    );
  });

  it('leaves the other axis alone', () => {
    expect(scale.y).toEqual(SCALE.y);
  });

  it('appears among the shares, which still sum to one', () => {
    const share = scale.x.state === 'undetermined' ? undefined : scale.x.share;
    const sum = Object.values(share ?? {}).reduce((total, one) => total + one, 0);
    expect(sum).toBeCloseTo(1, 12);
    expect(share?.drift).toBeGreaterThan(0.3);
  });

  it('is a doubt that names axis, sense and size', () => {
    expect(findings.map(({ code }) => code)).toEqual(['MACHINE_DRIFTED']);
    expect(findings[0]!.message).toContain('0.100 mm toward +X');
    expect(findings[0]!.message).toContain('0.40 mm/m of scale X');
  });
});

describe('drift adds nothing', () => {
  it('where it is smaller than its uncertainty', () => {
    const drift = { x: estimate(0.01, 0.02, 'mm'), y: OPEN };
    expect(weighDrift(SCALE, drift, ONE_BY_ONE)).toEqual({ scale: SCALE, findings: [] });
  });

  it('where nothing was marked again', () => {
    const drift = { x: OPEN, y: OPEN };
    expect(weighDrift(SCALE, drift, { ...ONE_BY_ONE, repeated: { x: [], y: [] } })).toEqual({
      scale: SCALE,
      findings: [],
    });
  });

  it('next to nothing to the scale where every second line was marked on the way back', () => {
    const lines = Array.from({ length: 19 }, (_, k) => k);
    const outAndBack = grid([
      ...lines.filter((k) => k % 2 === 0),
      ...lines.filter((k) => k % 2 === 1).reverse(),
    ]);
    const drift = { x: estimate(-0.1, 0.02, 'mm'), y: OPEN };
    const { scale, findings } = weighDrift(SCALE, drift, outAndBack);
    expect(scale.x.state !== 'undetermined' && scale.x.U).toBeLessThan(1.001 * 6e-4);
    expect(findings[0]!.message).toContain('toward −X');
    expect(findings[0]!.message).toContain('out and back');
  });
});
