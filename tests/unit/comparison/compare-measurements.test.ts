import { describe, expect, it } from 'vitest';
import { type Comparison, comparisonSchema } from '../../../shared/schemas/comparison.js';
import type { MachineFile } from '../../../shared/schemas/machine.js';
import type { Measurement, PhotoRecord } from '../../../shared/schemas/measurement.js';
import { compareMeasurements } from '../../../src/comparison/index.js';
import { judge, propose } from '../../../src/correction/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { estimate, makeMeasurement, UNDETERMINED } from '../report/make-measurement.js';

const MACHINE: MachineFile = {
  gantryAxis: 'y',
  homing: { y: '-' },
  axes: {
    x: { drive: 'screw', stepsPerMm: 320 },
    y: { drive: 'rack', drives: 2, driveSpacing: 940 },
  },
};
/** Squareness +0.85 ± 0.06 mm/m, scale X +1.3 ± 0.22 mm/m, lost motion Y 0.14 ± 0.006 mm: all three to be changed. */
const BEFORE = judged({});
const TUESDAY = '2026-11-24T10:30:00.000Z';

function judged(changes: Partial<Measurement>, machine = MACHINE): Measurement {
  const measurement = makeMeasurement(changes);
  const verdicts = judge(measurement, machine);
  return { ...measurement, verdicts, proposals: propose(measurement, machine, undefined) };
}

function later(changes: Partial<Measurement>): Measurement {
  const photos = makeMeasurement().photos.map((photo): PhotoRecord => {
    const { takenAt: _, ...rest } = photo;
    return photo.takenAt === undefined ? photo : { ...rest, takenAt: '2026:11:24 10:02:00' };
  });
  return judged({ measuredAt: TUESDAY, photos, ...changes });
}

function compare(after: Measurement, before = BEFORE, isForced = false): Comparison {
  const files = [before, after].map((measurement, i) => ({ file: `${i}.json`, measurement }));
  const comparison = unwrap(compareMeasurements(files[0]!, files[1]!, isForced));
  return comparisonSchema.parse(JSON.parse(JSON.stringify(comparison)));
}

function of(comparison: Comparison, what: string) {
  const found = comparison.quantities.find((one) => one.what === what);
  if (found === undefined) throw new Error(`${what} is not compared`);
  return found;
}

const squarenessAfter = (mmPerM: number, U = 0.08) =>
  of(compare(later({ squareness: estimate(mmPerM / 1000, U / 1000, 'rad') })), 'squareness');

describe('the change of a quantity', () => {
  it('is after minus before, with the root of the sum of squares of both U', () => {
    // U: 0.06 and 0.08 make 0.10 mm/m.
    const { change, proposed } = squarenessAfter(0.05);
    expect(change!.value).toBeCloseTo(-0.8e-3, 12);
    expect(change!.U).toBeCloseTo(0.1e-3, 12);
    expect(change!.u).toBeCloseTo(0.05e-3, 12);
    // 0.80 / 0.10; to be changed by -0.85: 0.05 / 0.10; 0.80 / 0.85.
    expect(change!.En).toBeCloseTo(8, 9);
    expect(proposed!.change).toBeCloseTo(-0.85e-3, 12);
    expect(proposed!.En).toBeCloseTo(0.5, 9);
    expect(proposed!.factor!.value).toBeCloseTo(0.8 / 0.85, 9);
    expect(proposed!.factor!.U).toBeCloseTo(0.1 / 0.85, 9);
  });

  it('was what was proposed where it differs from that by no more than U', () => {
    expect(squarenessAfter(0.05).verdict).toBe('did what was proposed');
    expect(squarenessAfter(-0.09).verdict).toBe('did what was proposed');
    expect(squarenessAfter(0.05).limit).toEqual({ limit: 0.2, unit: 'mm/m', verdict: 'inside' });
  });

  it('went the wrong way where the error doubled: the side or the sign was swapped', () => {
    const { verdict, why, hint, limit } = squarenessAfter(1.7);
    expect(verdict).toBe('moved the wrong way');
    expect(why).toContain('by the proposed amount, but the other way');
    expect(why).toContain('sign or side swapped');
    expect(hint).toContain('take the change back');
    expect(limit?.verdict).toBe('outside');
  });

  it('went the wrong way by another amount too', () => {
    // +0.425 against -0.85: half of it, (0.85 + 0.425) / 0.85 = 1.5 times the error.
    const { verdict, why } = squarenessAfter(1.275);
    expect(verdict).toBe('moved the wrong way');
    expect(why).toContain('by 0.50 ± 0.12 of the amount, and the error is 1.5 times');
  });

  it('is no wrong way while it stays within U', () => {
    expect(squarenessAfter(0.94).verdict).toBe('no change beyond U');
  });

  it('tells too little from too far, with the factor and a plain slip that explains it', () => {
    // -0.425 and -1.7 of -0.85, U of the factor 0.118.
    const half = squarenessAfter(0.425);
    expect(half.verdict).toBe('moved too little');
    expect(half.why).toContain('by 0.50 ± 0.12 of what was proposed: that is half of it');
    const twice = squarenessAfter(-0.85);
    expect(twice.verdict).toBe('moved too far');
    expect(twice.why).toContain('by 2.00 ± 0.12 of what was proposed: that is twice');
    // -1.275: one and a half is no slip that has a name.
    expect(squarenessAfter(-0.425).why).toMatch(/by 1\.50 ± 0\.12 of what was proposed$/);
  });

  it('is left open where done and not done look alike', () => {
    // U of the change 0.604 against 0.85 proposed; -0.45 differs from 0 and from -0.85 by less.
    const { verdict, why } = squarenessAfter(0.4, 0.601);
    expect(verdict).toBe('cannot tell');
    expect(why).toContain('look alike');
  });

  it('is left open where nothing done and done the wrong way look alike', () => {
    // +0.45 differs from 0 and from +0.85 by less than 0.604, from -0.85 by more.
    const { verdict, why } = squarenessAfter(1.3, 0.601);
    expect(verdict).toBe('cannot tell');
    expect(why).toContain('it did not do what was proposed');
    expect(why).toContain('sign or side swapped');
  });

  it('unasked is told from one and a half U on, and left open before', () => {
    // Lost motion X 0.020 ± 0.004: nothing proposed. U of the change 0.005.
    const verdictAt = (mm: number) => {
      const lostMotion = { ...BEFORE.lostMotion, x: estimate(mm, 0.003, 'mm') };
      return of(compare(later({ lostMotion })), 'lostMotion.x').verdict;
    };
    expect(verdictAt(0.024)).toBe('no change beyond U');
    expect(verdictAt(0.026)).toBe('cannot tell');
    expect(verdictAt(0.029)).toBe('changed though nothing was proposed');
    expect(verdictAt(0.011)).toBe('changed though nothing was proposed');
  });
});

describe('what was proposed', () => {
  it('for steps per unit follows from old and new steps, or from the share', () => {
    // 320 / 1.0013 = 319.58454, rounded to 319.585: 1.0013 · 319.585 / 320 - 1.0013 = -1.29856e-3.
    const proposal = BEFORE.proposals.find(({ what }) => what === 'scale.x')!;
    expect(proposal.to).toBe(319.585);
    expect(of(compare(later({})), 'scale.x').proposed!.change).toBeCloseTo(-1.29856e-3, 7);
    const { axes: _, ...unknownSteps } = MACHINE;
    const before = judged({}, unknownSteps);
    expect(before.proposals.find(({ what }) => what === 'scale.x')!.unit).toBe('%');
    expect(of(compare(later({}), before), 'scale.x').proposed!.change).toBeCloseTo(-1.3e-3, 9);
  });

  it('for squareness is the same in mm over the drives, per metre, and by the guide of a table', () => {
    for (const machine of [MACHINE, { gantryAxis: 'y' }, { gantryAxis: 'none' }] as const) {
      const compared = of(compare(later({}), judged({}, machine)), 'squareness');
      expect(compared.proposed!.change).toBeCloseTo(-0.85e-3, 12);
    }
  });

  it('has the sign that takes a negative error out', () => {
    const before = judged({
      squareness: estimate(-0.5e-3, 0.06e-3, 'rad'),
      lostMotion: { x: BEFORE.lostMotion.x, y: estimate(-0.09, 0.006, 'mm') },
    });
    const comparison = compare(later({}), before);
    expect(of(comparison, 'squareness').proposed!.change).toBeCloseTo(0.5e-3, 12);
    expect(of(comparison, 'lostMotion.y').proposed!.change).toBeCloseTo(0.09, 12);
  });

  it('for X : Y follows from the steps of both, though nobody sets a ratio', () => {
    // X alone is to travel 319.585 / 320 of what it did: (1 + 1.4e-3) (0.998703 - 1) = -1.29869e-3.
    const { proposed } = of(compare(later({})), 'scale.ratio');
    expect(proposed!.change).toBeCloseTo(-1.29869e-3, 7);
  });

  it('is absent where it was left alone', () => {
    const comparison = compare(later({}));
    for (const what of ['scale.y', 'lostMotion.x', 'straightness.x', 'racking']) {
      expect(of(comparison, what).proposed, what).toBeUndefined();
    }
  });
});

describe('what cannot be told', () => {
  it('is what is undetermined or weak in one of them, with why and what to add', () => {
    const scale = { ...BEFORE.scale, x: UNDETERMINED };
    const open = of(compare(later({ scale })), 'scale.x');
    expect(open.verdict).toBe('cannot tell');
    expect(open.why).toContain('undetermined after: no known length');
    expect(open.hint).toContain('tape one distance');
    expect(open.change).toBeUndefined();
    expect(open.proposed!.change).toBeLessThan(0);
    const before = of(compare(later({}), judged({ scale })), 'scale.x');
    expect(before.why).toContain('undetermined before');
    const weak = { state: 'weak', reason: 'leans on what phones are' } as const;
    const weakly = later({ squareness: estimate(0, 0.3e-3, 'rad', weak) });
    const { verdict, why, change } = of(compare(weakly), 'squareness');
    expect(verdict).toBe('cannot tell');
    expect(why).toBe('only weakly known after: leans on what phones are');
    expect(change!.value).toBeCloseTo(-0.85e-3, 12);
  });

  const openIn = (comparison: Comparison) =>
    comparison.quantities.every(({ verdict }) => verdict === 'cannot tell');
  const codes = ({ findings }: Comparison) => findings.map(({ code }) => code);

  it('is everything, where the same file or the same photos are given twice', () => {
    const same = compare(BEFORE);
    expect(codes(same)).toEqual(['SAME_MEASUREMENT']);
    expect(openIn(same)).toBe(true);
    const photos = later({}).photos.map((photo) => ({ ...photo, sha256: 'abc' }));
    const again = compare(later({ photos }), judged({ photos }));
    expect(codes(again)).toEqual(['SAME_MEASUREMENT']);
    expect(openIn(again)).toBe(true);
  });

  it('is everything, where the later one is the earlier one by the dates of its photos', () => {
    const swapped = compare(BEFORE, later({}));
    expect(codes(swapped)).toEqual(['MEASURED_EARLIER']);
    expect(openIn(swapped)).toBe(true);
    // A clock was wrong.
    const forced = compare(BEFORE, later({}), true);
    expect(codes(forced)).toContain('MEASURED_EARLIER');
    expect(of(forced, 'squareness').verdict).toBe('no change beyond U');
    // Evaluated once more later, the photos being older all the same.
    expect(codes(compare({ ...BEFORE, measuredAt: '2026-12-24' }, later({})))).toContain(
      'MEASURED_EARLIER',
    );
    // Without dates in the photos by when they were evaluated.
    const undated = (measurement: Measurement) => ({ ...measurement, photos: [] });
    expect(codes(compare(undated(BEFORE), undated(later({}))))).toContain('MEASURED_EARLIER');
    expect(codes(compare(undated(later({})), undated(BEFORE)))).not.toContain('MEASURED_EARLIER');
  });

  it('is everything, where the marks are older than the measurement before', () => {
    const old = compare(later({ marked: '2026-11-19' }));
    expect(codes(old)).toEqual(['OLD_MARKS']);
    expect(openIn(old)).toBe(true);
    expect(of(old, 'squareness').why).toContain('mark fresh lines');
    // Marked on the day of the first photos or later: they may be fresh.
    expect(codes(compare(later({ marked: '2026-11-20' })))).not.toContain('OLD_MARKS');
    expect(codes(compare(later({ marked: '2026-11-24' })))).not.toContain('OLD_MARKS');
  });

  it('is racking where the gantry was taken to travel otherwise', () => {
    const other = compare(later({ gantryAxis: 'x' }));
    expect(codes(other)).toContain('GANTRY_AXES_DIFFER');
    expect(of(other, 'racking').verdict).toBe('cannot tell');
    const square = later({ gantryAxis: 'x', squareness: estimate(0, 0.06e-3, 'rad') });
    expect(of(compare(square), 'squareness').verdict).toBe('did what was proposed');
  });

  it('is shape along a travel of which another part was marked', () => {
    const [placement] = BEFORE.placements;
    const linesAtX = [0, 100, 200];
    const placements = [{ ...placement!, program: 'small.ngc', linesAtX }];
    const squareness = estimate(0, 0.06e-3, 'rad');
    const small = compare(later({ placements, squareness }));
    expect(codes(small)).toEqual(['PROGRAMS_DIFFER']);
    expect(small.findings[0]!.message).toContain('bed-grid.ngc; small.ngc');
    expect(of(small, 'straightness.x').verdict).toBe('cannot tell');
    expect(of(small, 'squareness').verdict).toBe('did what was proposed');
    // The same lines in a file of another name are the same grid.
    const renamed = [{ ...placement!, program: 'copy.ngc' }];
    expect(codes(compare(later({ placements: renamed, squareness })))).toEqual([]);
  });

  it('says that nothing of all that was proposed moved', () => {
    expect(codes(compare(later({})))).toEqual(['NOTHING_MOVED']);
    expect(codes(compare(later({ squareness: estimate(0, 0.06e-3, 'rad') })))).toEqual([]);
  });
});

describe('two machines', () => {
  it('are refused by their names, unless it is forced', () => {
    const other = later({ machine: 'Other router' });
    const outcome = compareMeasurements(
      { file: 'a.json', measurement: BEFORE },
      { file: 'b.json', measurement: other },
    );
    expect(outcome.ok).toBe(false);
    if (outcome.ok) return;
    expect(outcome.failure.code).toBe('NOT_COMPARABLE');
    expect(outcome.failure.message).toContain('“Test router” and “Other router”');
    expect(compare(other, BEFORE, true).findings.map(({ code }) => code)).toContain(
      'MACHINES_DIFFER',
    );
  });

  it('are one where one of them has no name', () => {
    const { machine: _, ...unnamed } = later({});
    expect(compare(unnamed).findings.map(({ code }) => code)).not.toContain('MACHINES_DIFFER');
  });
});

describe('what both have in common', () => {
  const share = { photos: 0.1, marks: 0.1, evidence: 0, camera: 0.8 };
  const rolled = (turns: readonly number[]) => ({
    squareness: estimate(0.1e-3, 0.06e-3, 'rad', { share }),
    photos: turns.map((turn, i): PhotoRecord => {
      return { file: `${i}.jpg`, used: true, rollRad: (turn * Math.PI) / 2 + 0.03 };
    }),
  });
  const common = (after: Partial<Measurement>, before: Partial<Measurement>) =>
    of(compare(later(after), judged(before)), 'squareness').common;

  it('is the phone, which is cautious at the same quarter turns and not at others', () => {
    expect(common(rolled([0, 1, 2, 3]), rolled([3, 2, 1, 0, 4]))).toMatchObject([
      { influence: 'camera', cautious: true },
    ]);
    expect(common(rolled([1]), rolled([0]))).toMatchObject([
      { influence: 'camera', cautious: false },
    ]);
  });

  it('is nothing where the phone is another one or the result hardly rests on it', () => {
    const camera = BEFORE.camera.map((one) => ({ ...one, model: 'Another' }));
    expect(common({ ...rolled([0]), camera }, rolled([0]))).toBeUndefined();
    const squareness = estimate(0, 0.06e-3, 'rad', {
      share: { photos: 0.5, marks: 0.45, evidence: 0, camera: 0.05 },
    });
    expect(common({ ...rolled([0]), squareness }, rolled([0]))).toBeUndefined();
  });

  it('is the tape where both scales rest on a length', () => {
    const taped = { photos: 0.1, marks: 0.1, evidence: 0.8, camera: 0 };
    const scale = { ...BEFORE.scale, x: estimate(1.3e-3, 0.22e-3, '1', { share: taped }) };
    const compared = compare(later({ scale }), judged({ scale }));
    expect(of(compared, 'scale.x').common).toMatchObject([{ influence: 'tape', cautious: true }]);
    expect(of(compared, 'scale.y').common).toBeUndefined();
  });
});
