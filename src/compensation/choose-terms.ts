/** Which errors of a measurement a program is compensated for, and why the others are not. */

import type { CurvePoint, Measurement, Quantity } from '../../shared/schemas/measurement.js';
import { deviationTable, type TableEntry } from './deviation-table.js';

/** What can be chosen, in the order in which it is told. */
export const COMPENSATED_TERMS = [
  'squareness',
  'scale',
  'straightness',
  'table',
  'racking',
] as const;
export type CompensatedTerm = (typeof COMPENSATED_TERMS)[number];

/** Errors of the machine as they are taken out; 0 or empty where they are not. */
export interface LandingTerms {
  readonly squarenessRad: number;
  /** (true - commanded) / commanded. */
  readonly scaleX: number;
  readonly scaleY: number;
  /** Of X motion, seen in Y, by x; of Y motion, seen in X, by y; mm. */
  readonly straightnessX: readonly CurvePoint[];
  readonly straightnessY: readonly CurvePoint[];
  /** What positioning leaves after the slope, by line; mm. */
  readonly tableX: readonly TableEntry[];
  readonly tableY: readonly TableEntry[];
  /** Of the gantry about its mean, by the place along its travel; rad. */
  readonly yaw: readonly CurvePoint[];
  readonly gantryAxis: Measurement['gantryAxis'];
  /** Commanded places of the grid's lines, mm, ascending. */
  readonly linesAtX: readonly number[];
  readonly linesAtY: readonly number[];
}

export interface UsedTerm {
  readonly what: string;
  /** Of a table and of racking the largest one, without a sign. */
  readonly value: number;
  readonly U: number;
  readonly unit: 'rad' | '1' | 'mm';
}

export interface LeftOutTerm {
  readonly what: string;
  readonly why: string;
  /** What would let it be used. */
  readonly add: readonly string[];
}

export interface ChosenTerms {
  readonly terms: LandingTerms;
  readonly used: readonly UsedTerm[];
  readonly leftOut: readonly LeftOutTerm[];
}

/** Only what is measured is used, and of that only what is larger than its expanded uncertainty. */
export function chooseTerms(
  measurement: Measurement,
  wanted: ReadonlySet<CompensatedTerm>,
): ChosenTerms {
  const choice = new Choice(wanted);
  const squareness = choice.take('squareness', 'squareness', measurement.squareness);
  const scale = chooseScale(choice, measurement.scale);
  const curve = measurement.straightnessCurve;
  const bend = (axis: 'x' | 'y') => {
    const what = `straightness ${axis.toUpperCase()}`;
    const points = curve?.[axis] ?? [];
    if (points.length >= FEWEST_BENT) {
      return choice.take('straightness', what, measurement.straightness[axis]) ? points : [];
    }
    if (choice.isMeasured(what, measurement.straightness[axis])) {
      choice.leave(what, 'the measurement holds no curve of it');
    }
    return [];
  };
  const [straightnessX, straightnessY] = [bend('x'), bend('y')];
  const table = (axis: 'x' | 'y') => choice.takeTable(axis, deviationTable(measurement, axis));
  const [tableX, tableY] = [table('x'), table('y')];
  const yaw = chooseYaw(choice, measurement);
  choice.leave('lost motion', 'no path takes it out: remove it from the machine first');
  for (const axis of ['x', 'y'] as const) {
    if (measurement.periodic?.[axis].state !== 'measured') continue;
    const why = 'it would cut every line into many pieces: mend the drive instead';
    choice.leave(`periodic ${axis.toUpperCase()}`, why);
  }
  return {
    terms: {
      squarenessRad: squareness?.value ?? 0,
      ...scale,
      straightnessX,
      straightnessY,
      tableX,
      tableY,
      yaw,
      gantryAxis: measurement.gantryAxis,
      linesAtX: linesOf(measurement, 'x'),
      linesAtY: linesOf(measurement, 'y'),
    },
    used: choice.used,
    leftOut: choice.leftOut,
  };
}

/** Lines from which on the machine's model has a bend at all. */
const FEWEST_BENT = 4;

class Choice {
  readonly used: UsedTerm[] = [];
  readonly leftOut: LeftOutTerm[] = [];
  readonly #wanted: ReadonlySet<CompensatedTerm>;

  constructor(wanted: ReadonlySet<CompensatedTerm>) {
    this.#wanted = wanted;
  }

  wants(term: CompensatedTerm): boolean {
    return this.#wanted.has(term);
  }

  use(what: string, { value, U, unit }: UsedTerm | Measured): void {
    if (unit === 'rad/m') throw new Error(`${what} is told per metre`);
    this.used.push({ what, value, U, unit });
  }

  leave(what: string, why: string, add: readonly string[] = []): void {
    this.leftOut.push({ what, why, add });
  }

  /** Whether a quantity is there to be used; notes why where it is not. */
  isMeasured(what: string, quantity: Quantity): quantity is Measured {
    if (quantity.state === 'measured') return true;
    const why = `${quantity.state}: ${quantity.reason ?? 'no reason was given'}`;
    this.leave(what, why, quantity.add);
    return false;
  }

  /** The quantity where it is used. */
  take(term: CompensatedTerm, what: string, quantity: Quantity): Measured | undefined {
    if (!this.wants(term)) {
      this.leave(what, 'not asked for');
      return undefined;
    }
    if (!this.isMeasured(what, quantity)) return undefined;
    if (!isSignificant(quantity)) {
      this.leave(what, SMALL);
      return undefined;
    }
    this.use(what, quantity);
    return quantity;
  }

  takeTable(axis: 'x' | 'y', table: ReturnType<typeof deviationTable>): readonly TableEntry[] {
    const what = `table ${axis.toUpperCase()}`;
    if (!this.wants('table')) {
      this.leave(what, 'not asked for');
      return [];
    }
    if ('why' in table) {
      this.leave(what, table.why);
      return [];
    }
    const largest = Math.max(...table.entries.map(({ value }) => Math.abs(value)));
    this.use(what, { what, value: largest, U: 2 * table.u, unit: 'mm' });
    return table.entries;
  }
}

type Measured = Extract<Quantity, { value: number }>;

const SMALL = 'smaller than its uncertainty';

function isSignificant({ value, U }: Measured): boolean {
  return Math.abs(value) > U;
}

/**
 * Both scales stand or fall together: their ratio is known far better than either, and to correct one
 * alone would spoil it. Where only the ratio is known, each axis takes half of it, so that what is
 * made comes out similar; its size stays open.
 */
function chooseScale(
  choice: Choice,
  { x, y, ratio }: Measurement['scale'],
): { readonly scaleX: number; readonly scaleY: number } {
  const none = { scaleX: 0, scaleY: 0 };
  if (!choice.wants('scale')) {
    choice.leave('scale', 'not asked for');
    return none;
  }
  const known = [x, y, ratio].filter((one): one is Measured => one.state === 'measured');
  const isLarge = known.some(isSignificant);
  const open: [string, Quantity][] = [
    ['scale X', x],
    ['scale Y', y],
    ['scale X : Y', ratio],
  ];
  for (const [what, quantity] of open) {
    if (quantity.state !== 'measured') choice.isMeasured(what, quantity);
    else if (!isLarge) choice.leave(what, SMALL);
  }
  if (!isLarge) return none;
  if (x.state === 'measured' && y.state === 'measured') {
    choice.use('scale X', x);
    choice.use('scale Y', y);
    return { scaleX: x.value, scaleY: y.value };
  }
  if (ratio.state !== 'measured') {
    for (const [what, quantity] of open) if (isUsable(quantity)) choice.use(what, quantity);
    return { scaleX: isUsable(x) ? x.value : 0, scaleY: isUsable(y) ? y.value : 0 };
  }
  choice.use('scale X : Y', ratio);
  if (isUsable(x)) {
    choice.use('scale X', x);
    return { scaleX: x.value, scaleY: (1 + x.value) / (1 + ratio.value) - 1 };
  }
  if (isUsable(y)) {
    choice.use('scale Y', y);
    return { scaleX: (1 + y.value) * (1 + ratio.value) - 1, scaleY: y.value };
  }
  const half = ratio.value / (2 + ratio.value);
  return { scaleX: half, scaleY: -half };
}

function isUsable(quantity: Quantity): quantity is Measured {
  return quantity.state === 'measured';
}

/** Standard uncertainties by which a place of the curve must stand out. */
const CLEAR_BEND = 3.5;

/** The quantity is the slope alone; bends of the yaw count as well. */
function chooseYaw(choice: Choice, { racking, gantryAxis }: Measurement): readonly CurvePoint[] {
  if (gantryAxis === 'none') return [];
  if (!choice.wants('racking')) {
    choice.leave('racking', 'not asked for');
    return [];
  }
  if (!choice.isMeasured('racking', racking)) return [];
  const curve = racking.curve ?? [];
  // Some of many places lie beyond 2 u by chance.
  const isBent = curve.some(({ value, u }) => Math.abs(value) > CLEAR_BEND * u);
  if (curve.length < 2 || !(isSignificant(racking) || isBent)) {
    choice.leave('racking', SMALL);
    return [];
  }
  const largest = curve.reduce((one, other) =>
    Math.abs(other.value) > Math.abs(one.value) ? other : one,
  );
  const [value, U] = [Math.abs(largest.value), 2 * largest.u];
  choice.use('racking', { what: 'racking', value, U, unit: 'rad' });
  return curve;
}

/** The curves were told at the lines of the adjustment; without curves the programs tell them. */
function linesOf(measurement: Measurement, axis: 'x' | 'y'): number[] {
  const curve = measurement.straightnessCurve?.[axis] ?? [];
  const places =
    curve.length > 0
      ? curve.map(({ at }) => at)
      : measurement.placements.flatMap((one) => (axis === 'x' ? one.linesAtX : one.linesAtY));
  return [...new Set(places)].sort((one, other) => one - other);
}
