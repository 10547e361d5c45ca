/** Proposals where positions do not follow a straight slope, and where a number was entered wrongly. */
import { describe, expect, it } from 'vitest';
import type { AxisFile, MachineFile } from '../../../shared/schemas/machine.js';
import type { DeviationRecord, Measurement } from '../../../shared/schemas/measurement.js';
import { errorTable, errorTableCsv, propose } from '../../../src/correction/index.js';
import { wrongEntryOf } from '../../../src/correction/wrong-entry.js';
import { unwrap } from '../../../src/quantity/index.js';
import { estimate, makeMeasurement } from '../report/make-measurement.js';

/** Small departures of single lines, the same every time; mm. */
const WANDER = [3, -5, 1, 4, -2, -4, 5, 0, -3, 2, 4, -1, -5, 3, 1].map((one) => one / 1000);

function along(
  axis: 'x' | 'y',
  middle: (at: number) => number,
  play = 0.02,
  pitch = 50,
): DeviationRecord[] {
  return WANDER.map((off, i) => {
    const value = middle(pitch * i) + off;
    return {
      placement: 0,
      axis,
      commanded: pitch * i,
      forward: value - play / 2,
      reverse: value + play / 2,
      u: 0.004,
    };
  });
}

function proposalsFor(changes: Partial<Measurement>, x: AxisFile = {}, y: AxisFile = {}) {
  const machine: MachineFile = { gantryAxis: 'y', axes: { x, y } };
  return propose(makeMeasurement(changes), machine, undefined);
}

const find = (list: ReturnType<typeof proposalsFor>, what: string) =>
  list.find((one) => one.what === what);

describe('a step in the positions of a rack', () => {
  const slope = 0.3e-3;
  const list = proposalsFor(
    {
      scale: { ...makeMeasurement().scale, y: estimate(slope, 0.05e-3, '1') },
      deviations: along('y', (at) => slope * at + (at > 310 ? 0.18 : 0)),
      placements: makeMeasurement().placements.map((one) => ({
        ...one,
        linesAtY: WANDER.map((_, i) => 50 * i),
      })),
    },
    {},
    { drive: 'rack', stepsPerMm: 84.883 },
  );

  it('comes first, with the joint it looks like and the check of that', () => {
    expect(list[0]).toMatchObject({ what: 'position.y', leaveAlone: false, unit: 'mm' });
    expect(list[0]!.amount).toBeGreaterThan(0.16);
    expect(list[0]!.amount).toBeLessThan(0.2);
    expect(list[0]!.direction).toBe('at Y325');
    expect(list[0]!.looksLike).toContain('joint between two racks');
    expect(list[0]!.check).toContain('piece of rack');
  });

  it('keeps steps per unit as they are: they would hide it', () => {
    const steps = find(list, 'scale.y');
    expect(steps?.leaveAlone).toBe(true);
    expect(steps?.why).toContain('would hide it');
  });
});

describe('a straight slope', () => {
  it('changes steps per unit, and expects nothing but U to be left', () => {
    const list = proposalsFor(
      { deviations: along('x', (at) => 1.3e-3 * at) },
      { drive: 'rack', stepsPerMm: 100 },
    );
    expect(find(list, 'position.x')).toBeUndefined();
    expect(find(list, 'scale.x')).toMatchObject({
      leaveAlone: false,
      expected: { value: 0, U: 0.22, unit: 'mm/m' },
    });
  });
});

describe('an error that repeats with every turn', () => {
  const periodic = (value: number) => ({
    x: { ...estimate(value, 0.004, 'mm'), period: 5, phase: 0 },
    y: { state: 'undetermined' as const, reason: 'no', add: [] },
  });

  it('is to be mended where its peaks are farther apart than lost motion may be', () => {
    const [found] = proposalsFor({ periodic: periodic(0.04) }, { drive: 'screw' });
    expect(found).toMatchObject({ what: 'periodic.x', amount: 0.08, U: 0.008 });
    expect(found!.looksLike).toContain('screw that is bent');
  });

  it('is passed over where it is smaller', () => {
    expect(find(proposalsFor({ periodic: periodic(0.01) }), 'periodic.x')).toBeUndefined();
  });
});

describe('steps per unit beside the geometry of the drive', () => {
  // 1600 steps over a lead of 5 mm: 320.
  const screw = { drive: 'screw', stepsPerTurn: 1600, lead: 5 } as const;

  it('are those of the geometry where they lie within U', () => {
    // 320.4 / 1.0013 = 319.98 ± 0.07
    const found = find(proposalsFor({}, { ...screw, stepsPerMm: 320.4 }), 'scale.x');
    expect(found).toMatchObject({ from: 320.4, to: 320, leaveAlone: false });
    expect(found!.why).toContain('geometry says');
  });

  it('are what was measured where the geometry lies elsewhere, which is told', () => {
    const found = find(proposalsFor({}, { ...screw, stepsPerMm: 330 }), 'scale.x');
    expect(found!.to).toBeCloseTo(330 / 1.0013, 2);
    expect(found!.why).toContain('by the drive’s geometry it would be 320'.replace('’', "'"));
  });

  it('stay where they are the geometry’s own and no sound drive is so far off', () => {
    const found = find(proposalsFor({}, { ...screw, stepsPerMm: 320 }), 'scale.x');
    expect(found).toMatchObject({ leaveAlone: true });
    expect(found!.why).toContain('no sound screw is off by 1.30 mm/m');
  });
});

describe('a wrong entry', () => {
  it.each([
    [1, 'factor of two'],
    [-0.5, 'factor of two'],
    [0.1, 'ten per cent'],
    [24.4, '25.4'],
    [0.016, 'inch pitch'],
    // cos 19.53° = 0.94249: teeth taken for straight ones.
    [0.061, '1/cos β'],
    [-0.0576, '1/cos β'],
    // 3.14159 / 3.14.
    [5.07e-4, '3.14'],
  ])('is recognised behind an error of %d', (scale, words) => {
    expect(wrongEntryOf(scale, Math.max(5e-5, Math.abs(scale) * 2e-4))).toContain(words);
  });

  it.each([
    ['wear of a millimetre per metre', 1e-3, 5e-5],
    ['three per cent', 0.03, 5e-5],
    ['an error that its uncertainty nearly covers', 5e-4, 2e-4],
  ])('is not suspected behind %s', (_, scale, u) => {
    expect(wrongEntryOf(scale, u)).toBeUndefined();
  });
});

describe('fresh marks that do not bear the old ones out', () => {
  it('keep everything as it is', () => {
    const change = estimate(0.4e-3, 0.05e-3, '1');
    const none = estimate(0, 0.05e-3, 'rad');
    const fresh = {
      squareness: none,
      scale: { x: change, y: change, ratio: none },
      lostMotion: { x: estimate(0, 0.01, 'mm'), y: estimate(0, 0.01, 'mm') },
      racking: none,
      explainedBy: 'board' as const,
    };
    expect(proposalsFor({ fresh }).filter(({ leaveAlone }) => !leaveAlone)).toEqual([]);
    const borne = proposalsFor({ fresh: { ...fresh, explainedBy: 'nothing' } });
    expect(borne.filter(({ leaveAlone }) => !leaveAlone).length).toBeGreaterThan(0);
  });
});

describe('a screw-error table', () => {
  const lines: DeviationRecord[] = [
    { placement: 0, axis: 'x', commanded: 100, forward: 0.11, reverse: 0.14, u: 0.004 },
    { placement: 0, axis: 'x', commanded: 0, forward: 0.01, reverse: 0.03, u: 0.004 },
    { placement: 0, axis: 'x', commanded: 50, forward: 0.06, u: 0.004 },
    { placement: 0, axis: 'x', commanded: 25, forward: 9, reverse: 9, rung: true, u: 0.004 },
    { placement: 0, axis: 'y', commanded: 25, forward: 9, reverse: 9, u: 0.004 },
  ];

  it('ascends, begins at zero, and fills in the side that was not marked', () => {
    const rows = unwrap(errorTable(lines, 'x'));
    // Median of 0.02 and 0.03, the upper one.
    expect(errorTableCsv(rows)).toBe(
      'position_mm,forward_mm,reverse_mm\r\n0,0,0.02\r\n50,0.05,0.08\r\n100,0.1,0.13\r\n',
    );
  });

  it('without its slope holds what steps per unit leave', () => {
    const rows = unwrap(errorTable(lines, 'x', { isLevel: true }));
    // Means 0.02, 0.075, 0.125: 1.05 mm/m.
    expect(rows.map(({ forwardMm }) => Number(forwardMm.toFixed(6)))).toEqual([0, -0.0025, -0.005]);
  });

  it('keeps the rows from which the others are interpolated best', () => {
    const knee = along('x', (at) => (at < 350 ? 0 : 1e-3 * (at - 350)), 0.02).map((row, i) => ({
      ...row,
      forward: row.forward! - WANDER[i]!,
      reverse: row.reverse! - WANDER[i]!,
    }));
    const rows = unwrap(errorTable(knee, 'x', { rows: 3 }));
    expect(rows.map(({ positionMm }) => positionMm)).toEqual([0, 350, 700]);
  });

  it('is refused where there are not two lines', () => {
    expect(errorTable(lines, 'y').ok).toBe(false);
  });
});

describe('lines approached from one side each', () => {
  it('show no steps where lost motion is all there is', () => {
    const deviations = along('x', () => 0, 0.12).map((row, i) => {
      const { forward, reverse, ...rest } = row;
      return i < 8 ? { ...rest, forward: forward! } : { ...rest, reverse: reverse! };
    });
    expect(find(proposalsFor({ deviations }), 'position.x')).toBeUndefined();
  });
});

describe('slips', () => {
  it('of π and of helical teeth are those of racks, π in one sense alone', () => {
    expect(wrongEntryOf(5.07e-4, 5e-5, 'screw')).toBeUndefined();
    expect(wrongEntryOf(5.07e-4, 5e-5, 'rack')).toContain('3.14');
    expect(wrongEntryOf(-5.07e-4, 5e-5, 'rack')).toBeUndefined();
    expect(wrongEntryOf(0.061, 5e-5, 'belt')).toBeUndefined();
    expect(wrongEntryOf(-0.1, 5e-5, 'screw')).toContain('ten per cent');
    // 0.08 % is no 0.05 %.
    expect(wrongEntryOf(8e-4, 5e-5, 'rack')).toBeUndefined();
  });
});
