import { describe, expect, it } from 'vitest';
import type { MachineFile } from '../../../shared/schemas/machine.js';
import type { Measurement } from '../../../shared/schemas/measurement.js';
import { cautions, doubtMachine, propose, proposeAgain } from '../../../src/correction/index.js';
import { estimate, makeMeasurement, UNDETERMINED } from '../report/make-measurement.js';

const MACHINE: MachineFile = {
  gantryAxis: 'y',
  axes: {
    x: { drive: 'screw', stepsPerMm: 320 },
    y: { drive: 'rack', stepsPerMm: 84.883, drives: 2, driveSpacing: 940 },
  },
};

function proposal(
  what: string,
  changes: Partial<Measurement> = {},
  machine: MachineFile | undefined = MACHINE,
) {
  const found = propose(makeMeasurement(changes), machine, undefined).find(
    (record) => record.what === what,
  );
  if (found === undefined) throw new Error(`no word about ${what}`);
  return found;
}

const squareness = (mmPerM: number) => ({ squareness: estimate(mmPerM * 1e-3, 0.05e-3, 'rad') });

/**
 * Two parallel rails 940 mm apart; the beam lies between the drives at `minus` and `plus` along
 * them. Returns the squareness that marks would show: how far Y leans toward +X.
 */
function squarenessOf(minus: number, plus: number): number {
  return (plus - minus) / 940;
}

describe('the squareness proposal for a gantry with two drives', () => {
  for (const s of [0.85, -0.85]) {
    it(`makes a machine true that leans by ${s} mm/m`, () => {
      const sides = { '−X side': 0, '+X side': s * 1e-3 * 940 };
      expect(squarenessOf(sides['−X side'], sides['+X side'])).toBeCloseTo(s * 1e-3, 12);
      const { side, direction, amount, unit } = proposal('squareness', squareness(s));
      expect(unit).toBe('mm');
      expect(direction).toBe('toward −Y');
      sides[side as keyof typeof sides] -= amount!;
      expect(squarenessOf(sides['−X side'], sides['+X side'])).toBeCloseTo(0, 12);
    });
  }

  it('moves a side by spacing times angle, with U over the same spacing', () => {
    // 0.94 m × 0.85 mm/m = 0.799 mm; 0.94 × 0.05 = 0.047 mm
    const { amount, U, side } = proposal('squareness', squareness(0.85));
    expect(side).toBe('+X side');
    expect(amount).toBeCloseTo(0.799, 6);
    expect(U).toBeCloseTo(0.047, 6);
  });

  it('names the +Y side and −X where the gantry travels along X', () => {
    const machine: MachineFile = {
      gantryAxis: 'x',
      axes: { x: { drives: 2, driveSpacing: 500 } },
    };
    expect(proposal('squareness', squareness(1), machine)).toMatchObject({
      side: '+Y side',
      direction: 'toward −X',
      unit: 'mm',
      amount: 0.5,
    });
    expect(proposal('squareness', squareness(-1), machine).side).toBe('−Y side');
  });

  it('is counted per metre of beam where the spacing of the drives is not known', () => {
    const machine: MachineFile = { gantryAxis: 'y', axes: { y: { drives: 2 } } };
    const found = proposal('squareness', squareness(0.85), machine);
    expect(found.unit).toBe('mm/m');
    expect(found.amount).toBeCloseTo(0.85, 9);
    expect(found.why).toContain('driveSpacing');
  });

  it('turns homing into pull-off: less where the leading side homes the way it has to go', () => {
    const withHoming = (y: '+' | '-') =>
      proposal('squareness', squareness(0.85), { ...MACHINE, homing: { y } }).why;
    // Rest position = switch + pull-off when homing toward −Y: farther toward −Y is less pull-off.
    expect(withHoming('-')).toMatch(/the \+X side .*reduce its pull-off/);
    expect(withHoming('-')).toMatch(/add as much to the pull-off of the −X side/);
    // Rest position = switch − pull-off when homing toward +Y: farther toward −Y is more pull-off.
    expect(withHoming('+')).toMatch(/the \+X side .*add as much to its pull-off/);
    expect(withHoming('+')).toMatch(/reduce the pull-off of the −X side/);
    expect(proposal('squareness', squareness(0.85)).why).not.toContain('pull-off');
  });

  it('warns before hands go into the machine and before the first moves', () => {
    const text = (proposal('squareness', squareness(0.85)).cautions ?? []).join('\n');
    expect(text).toMatch(/laser and spindle off.*power isolated and locked out/);
    expect(text).toMatch(/soft limits and stored positions.*home again.*slow and in air/);
    expect(text).toMatch(/licensed electrician/);
    expect(text).not.toContain('skipped tooth');
  });

  it('sends to the frame first where a switch would have to take up millimetres', () => {
    const text = (proposal('squareness', squareness(12)).cautions ?? []).join('\n');
    expect(text).toMatch(/skipped tooth.*no pull-off may come to zero/);
  });
});

describe('the machine file', () => {
  const measured = { machine: 'Bench router', gantryAxis: 'y' as const };

  it('of another machine, or with another axis of the gantry, is doubted', () => {
    const codes = (machine: MachineFile) => doubtMachine(measured, machine).map(({ code }) => code);
    expect(codes({ name: 'Other' })).toEqual(['MACHINE_DIFFERS']);
    expect(codes({ name: 'Bench router', gantryAxis: 'x' })).toEqual(['GANTRY_AXIS_DIFFERS']);
    expect(codes({ name: 'Bench router', gantryAxis: 'y' })).toEqual([]);
    expect(codes({})).toEqual([]);
  });
});

describe('the squareness proposal for other machines', () => {
  it('turns the beam of a gantry with one drive, per metre, and speaks of no switch', () => {
    const machine: MachineFile = { ...MACHINE, axes: { y: { drives: 1 } }, homing: { y: '-' } };
    const found = proposal('squareness', squareness(0.85), machine);
    expect(found).toMatchObject({ side: '+X side', direction: 'toward −Y', unit: 'mm/m' });
    expect(found.why).toMatch(/shim/);
    expect(found.why).not.toContain('pull-off');
  });

  it('turns the Y guide where the table moves: its +Y end goes back from where it leans', () => {
    const found = proposal('squareness', squareness(0.85), { gantryAxis: 'none' });
    expect(found).toMatchObject({ side: '+Y end of the Y guide', direction: 'toward −X' });
    expect(found.amount).toBeCloseTo(0.85, 9);
    const other = proposal('squareness', squareness(-0.85), { gantryAxis: 'none' });
    expect(other.direction).toBe('toward +X');
  });
});

describe('the proposal for steps per unit', () => {
  const scaled = (e: number, U: number) => ({
    scale: { ...makeMeasurement().scale, x: estimate(e, U, '1') },
  });

  for (const e of [1.3e-3, -2.1e-3]) {
    it(`makes a machine land true whose travel is off by ${e}`, () => {
      // The machine needs this many steps for one true millimetre and is set to 320.
      const needed = 320 / (1 + e);
      const U = 0.2e-3;
      const { from, to } = proposal('scale.x', scaled(e, U));
      expect(from).toBe(320);
      const travelled = (1000 * to!) / needed;
      expect(Math.abs(travelled - 1000)).toBeLessThan((1000 * U) / 20);
    });
  }

  it('is old steps over 1 + e, rounded far below U', () => {
    // 320 / 1.0013 = 319.58454; U = 320 × 0.2e-3 = 0.064 steps/mm, of which 2 % is 0.0013
    const found = proposal('scale.x', scaled(1.3e-3, 0.2e-3));
    expect(found.to).toBe(319.585);
    expect(found.direction).toBe('fewer steps per mm');
    expect(found.U).toBeCloseTo(0.0638, 3);
  });

  it('is a share of the present setting where that is not known', () => {
    // 1 / 1.0013 − 1 = −0.12983 %
    const found = proposal('scale.x', scaled(1.3e-3, 0.2e-3), { axes: {} });
    expect(found.unit).toBe('%');
    expect(found.amount).toBeCloseTo(-0.12983, 5);
    expect(found.to).toBeUndefined();
  });

  it('reminds that a screw is seldom that wrong', () => {
    expect(proposal('scale.x').why).toMatch(/good screw/);
  });

  it('is withheld where the marks are old, because the board may have moved', () => {
    const old = { taken: '2026-11-20', marked: { date: '2026-08-20' } };
    const found = propose(makeMeasurement(), MACHINE, old).find(({ what }) => what === 'scale.x');
    // 11 days of August, September, October, 20 days of November: 92 days
    expect(found?.leaveAlone).toBe(true);
    expect(found?.why).toMatch(/92 days old.*board/);
  });

  it('takes the date from the photos where the evidence has none', () => {
    const marked = (date: string) =>
      propose(makeMeasurement(), MACHINE, { marked: { date } }).find(
        ({ what }) => what === 'scale.x',
      )?.leaveAlone;
    expect(marked('2026-10-01')).toBe(true);
    expect(marked('2026-11-18')).toBe(false);
  });

  it('is withheld where the air has become much drier or damper', () => {
    const at = (humidity: number) =>
      propose(makeMeasurement(), MACHINE, { humidity, marked: { humidity: 48 } }).find(
        ({ what }) => what === 'scale.x',
      );
    expect(at(30)?.leaveAlone).toBe(true);
    expect(at(30)?.why).toContain('drier');
    expect(at(45)?.leaveAlone).toBe(false);
  });
});

describe('the proposal for lost motion', () => {
  it('takes play out by hand first and sets only the rest', () => {
    const found = proposal('lostMotion.y');
    expect(found).toMatchObject({ direction: 'less play', amount: 0.14, unit: 'mm' });
    expect(found.why).toMatch(/by hand first \(pressure of pinion.*measure again.*setting/);
  });

  it('lowers the setting where that overshoots', () => {
    const lostMotion = { ...makeMeasurement().lostMotion, y: estimate(-0.12, 0.01, 'mm') };
    const found = proposal('lostMotion.y', { lostMotion });
    expect(found).toMatchObject({ direction: 'less compensation', amount: 0.12 });
    expect(found.why).toMatch(/too much; reduce the setting/);
  });
});

describe('the list of proposals', () => {
  it('goes mechanics, squareness, lost motion, steps per unit, each after the one before', () => {
    const straightness = { x: estimate(0.3, 0.02, 'mm'), y: estimate(0.3, 0.02, 'mm') };
    const changes = propose(makeMeasurement({ straightness }), MACHINE, undefined).filter(
      ({ leaveAlone }) => !leaveAlone,
    );
    expect(changes.map(({ what }) => what)).toEqual([
      'straightness.x',
      'straightness.y',
      'squareness',
      'lostMotion.y',
      'scale.x',
    ]);
    expect(changes.map(({ after }) => after)).toEqual([
      undefined,
      'straightness.x',
      'straightness.y',
      'squareness',
      'lostMotion.y',
    ]);
  });

  it('says where a guide bends', () => {
    const straightness = { ...makeMeasurement().straightness, x: estimate(0.3, 0.02, 'mm') };
    const found = proposal('straightness.x', { straightness });
    expect(found.why).toMatch(/toward \+Y at X0, toward −Y at X360/);
  });

  it('leaves alone what is smaller than its uncertainty, and what is inside the limit, and says which', () => {
    const scale = {
      ...makeMeasurement().scale,
      x: estimate(0.25e-3, 0.3e-3, '1'),
      y: estimate(0.05e-3, 0.02e-3, '1'),
    };
    expect(proposal('scale.x', { scale })).toMatchObject({ leaveAlone: true });
    expect(proposal('scale.x', { scale }).why).toMatch(/smaller than its own uncertainty/);
    expect(proposal('scale.y', { scale }).why).toMatch(/inside the shop's limit/);
  });

  it('changes what is larger than limit and uncertainty, though the verdict is open', () => {
    // 0.25 ± 0.1 mm/m against 0.2
    const found = proposal('squareness', { squareness: estimate(0.25e-3, 0.1e-3, 'rad') });
    expect(found.leaveAlone).toBe(false);
  });

  it('proposes nothing from what is weak or undetermined, and says what to add', () => {
    const weak = estimate(3e-3, 0.5e-3, 'rad', {
      state: 'weak',
      reason: 'one photo only',
      add: ['take eight photos'],
    });
    const scale = { x: UNDETERMINED, y: UNDETERMINED, ratio: UNDETERMINED };
    const records = propose(makeMeasurement({ squareness: weak, scale }), MACHINE, undefined);
    const about = (what: string) => records.find((record) => record.what === what);
    expect(about('squareness')).toMatchObject({ leaveAlone: true });
    expect(about('squareness')?.why).toMatch(/weakly known.*take eight photos/);
    expect(about('squareness')?.amount).toBeUndefined();
    expect(about('scale.x')?.why).toMatch(/undetermined.*tape one distance/);
  });

  it('says which side of a racking gantry travels farther', () => {
    // 1 mrad per metre over 0.48 m turns squareness by 0.48 mm/m, beyond 0.2; over 0.94 m: 0.94 mm/m
    const racking = estimate(1e-3, 0.05e-3, 'rad/m');
    expect(proposal('racking', { racking })).toMatchObject({
      leaveAlone: false,
      side: '+X side',
      unit: 'mm/m',
    });
    expect(proposal('racking', { racking }).amount).toBeCloseTo(0.94, 9);
    const other = estimate(-1e-3, 0.05e-3, 'rad/m');
    expect(proposal('racking', { racking: other }).side).toBe('−X side');
    const alongX: MachineFile = { gantryAxis: 'x', axes: { x: { drives: 2, driveSpacing: 940 } } };
    expect(proposal('racking', { racking, gantryAxis: 'x' }, alongX).side).toBe('−Y side');
    // Measured as if the gantry travelled along Y, the yaw says nothing about one along X.
    const records = propose(makeMeasurement({ racking }), alongX, undefined);
    expect(records.some(({ what }) => what === 'racking')).toBe(false);
  });

  it('made again from a saved measurement keeps steps withheld from old marks, unless told anew', () => {
    const old = { taken: '2026-11-20', marked: { date: '2026-08-20' } };
    const saved = makeMeasurement();
    saved.proposals = propose(saved, MACHINE, old);
    const stepsOf = (evidence: typeof old | undefined) =>
      proposeAgain(saved, MACHINE, evidence).find(({ what }) => what === 'scale.x')?.leaveAlone;
    expect(stepsOf(undefined)).toBe(true);
    expect(stepsOf({ ...old, marked: { date: '2026-11-20' } })).toBe(false);
    const order = proposeAgain(saved, MACHINE, undefined).filter(({ leaveAlone }) => !leaveAlone);
    expect(order.map(({ what, after }) => [what, after])).toEqual([
      ['squareness', undefined],
      ['lostMotion.y', 'squareness'],
    ]);
  });

  it('has cautions only where something is to be changed', () => {
    const records = propose(makeMeasurement(), MACHINE, undefined);
    expect(cautions(records).at(-1)).toMatch(/manual and the local rules/);
    expect(new Set(cautions(records)).size).toBe(cautions(records).length);
    expect(cautions(records.filter(({ leaveAlone }) => leaveAlone))).toEqual([]);
    const onlySteps = records.filter(({ what }) => what === 'scale.x');
    expect(cautions(onlySteps).join()).not.toContain('hands');
  });
});

describe('steps per unit of a machine that marked at 30 °C', () => {
  const at20 = (e: number) => ({ markedAt: 30, x: estimate(e, 0.05e-3, '1') });
  const scale = {
    x: estimate(1e-3, 0.05e-3, '1'),
    y: estimate(0, 0.05e-3, '1'),
    ratio: estimate(1e-3, 0.05e-3, '1'),
  };

  it('are those for 30 °C, with those for 20 °C beside them', () => {
    const { to, why } = proposal('scale.x', { scale, scaleAt20: at20(0.883e-3) });
    // 320 / 1.001 and 320 / 1.000883.
    expect(to).toBeCloseTo(319.68, 2);
    expect(why).toContain('right with the machine at 30 °C');
    expect(why).toContain('at 20 °C it travels 0.117 mm/m shorter');
    expect(Number(/with ([\d.]+) steps/.exec(why)?.[1])).toBeCloseTo(319.7177, 2);
  });

  it('say nothing of it where the difference is lost in the uncertainty', () => {
    const { why } = proposal('scale.x', { scale, scaleAt20: at20(0.98e-3) });
    expect(why).not.toContain('°C');
  });
});

describe('evidence that contradicts the rest', () => {
  it.each(['mm', '1'] as const)('keeps steps per unit back, unit %s', (unit) => {
    const evidence = [{ what: 'scale X by p.csv', given: 1, adjusted: 0, unit, u: 0.1, En: 2 }];
    expect(proposal('scale.x', { evidence })).toMatchObject({ leaveAlone: true });
    expect(proposal('scale.x', { evidence }).why).toContain('scale X by p.csv');
  });

  it('is no length where it is another way to the ratio of the scales', () => {
    const what = 'ratio of the scales by the photos alone';
    const length = { what, given: 1, adjusted: 0, unit: '1' as const, u: 0.1, En: 2 };
    const other = { ...length, byPhotosAlone: true as const };
    expect(proposal('scale.x', { evidence: [other] }).leaveAlone).toBe(false);
    expect(proposal('scale.x', { evidence: [length] }).withheld).toBe('contradicted');
  });
});
