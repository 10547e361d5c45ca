/**
 * The closed loop: a machine is measured, what was proposed is carried out on it, it marks again, is photographed
 * again with the same phone and measured again. Cameras are drawn from what is believed of them; no pictures.
 */

import type { MachineErrors, MachineTruth } from '../../samples/index.js';
import { createRandomSource } from '../../samples/random-source.js';
import type { Compared, ComparedName } from '../../shared/schemas/comparison.js';
import { DEFAULT_LIMITS, type MachineFile } from '../../shared/schemas/machine.js';
import {
  MEASUREMENT_SCHEMA_ID,
  type Measurement,
  type ProposalRecord,
  type Quantity,
} from '../../shared/schemas/measurement.js';
import { compareMeasurements } from '../../src/comparison/index.js';
import { judge, propose } from '../../src/correction/index.js';
import { adjust, estimateMachine } from '../../src/network/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { carryOut } from './carry-out.js';
import { COVERAGE_PLANS, drawBoard } from './coverage.js';
import type { SimulatedNetwork } from './simulated-network.js';

/** What is set right: not straightness and racking, which a spanner mends. */
export const SET_RIGHT = [
  'squareness',
  'scale.x',
  'scale.y',
  'lostMotion.x',
  'lostMotion.y',
] as const satisfies readonly ComparedName[];

/** One quantity of one machine. */
export interface Corrected {
  readonly machine: number;
  readonly what: (typeof SET_RIGHT)[number];
  readonly proposal: ProposalRecord;
  readonly limit: number;
  readonly truthBefore: number;
  readonly truthAfter: number;
  readonly before: Quantity;
  readonly after: Quantity;
  readonly compared: Compared;
  /** The same where every correction was swapped. */
  readonly swapped: Compared;
}

interface OwnedMachine {
  readonly file: MachineFile;
  /** The drawn errors as this machine has them. */
  readonly errors: (drawn: MachineErrors) => MachineErrors;
}

const PLAN = COVERAGE_PLANS['eight overhead']!;
/** Apart from the seeds of the first markings. */
const SECOND_MARKING = 100_000;
const SWAPPED_MARKING = 200_000;

/** Runs the loop for one machine, once as proposed and once with every sign or side swapped. */
export function closeLoop(machine: number): Corrected[] {
  const { file, errors } = ownMachine(machine);
  const first = mark(machine, machine, file, errors);
  const before = measure(first, file);
  const done = (isSwapped: boolean) => () =>
    before.proposals.reduce(
      (state, proposal) => carryOut(state, proposal, file, isSwapped),
      first.scene.machine,
    );
  const second = mark(machine, machine + SECOND_MARKING, file, done(false));
  const third = mark(machine, machine + SWAPPED_MARKING, file, done(true));
  const after = measure(second, file);
  const compared = compare(before, after);
  const swapped = compare(before, measure(third, file));
  return SET_RIGHT.map((what) => ({
    machine,
    what,
    proposal: before.proposals.find((one) => one.what === what)!,
    limit: /^lost/.test(what) ? DEFAULT_LIMITS.lostMotion : DEFAULT_LIMITS.squareness / 1000,
    truthBefore: trueValue(first.truth, what),
    truthAfter: trueValue(second.truth, what),
    before: compared(what).before,
    after: compared(what).after,
    compared: compared(what),
    swapped: swapped(what),
  }));
}

/** Gantries along Y and X and tables, both homing directions, with and without what a file may leave out. */
function ownMachine(machine: number): OwnedMachine {
  const random = createRandomSource(machine).fork('owner');
  const gantryAxis = (['y', 'x', 'none'] as const)[machine % 3]!;
  const isTold = random.uniform() < 0.7;
  const home = random.uniform() < 0.5 ? '+' : '-';
  const drives = isTold ? { drives: 2 as const, driveSpacing: random.between(500, 1400) } : {};
  const stepsX = random.uniform() < 0.7 ? { stepsPerMm: random.between(40, 400) } : {};
  const stepsY = random.uniform() < 0.7 ? { stepsPerMm: random.between(40, 400) } : {};
  const isOvercompensated = random.uniform() < 0.3;
  return {
    file: {
      gantryAxis,
      homing: { x: home, y: home },
      axes: {
        x: { ...stepsX, ...(gantryAxis === 'x' ? drives : {}) },
        y: { ...stepsY, ...(gantryAxis === 'y' ? drives : {}) },
      },
    },
    errors: (drawn) => ({
      ...drawn,
      lostMotionYMm: (isOvercompensated ? -0.5 : 1) * drawn.lostMotionYMm,
      ...(gantryAxis === 'none' ? { yaw: { ...drawn.yaw, legendre: [] } } : {}),
    }),
  };
}

function mark(
  phoneSeed: number,
  seed: number,
  { gantryAxis }: MachineFile,
  errors: OwnedMachine['errors'],
): SimulatedNetwork {
  return drawBoard(PLAN, seed, 1, {
    phoneSeed,
    errors,
    gantryAxis: gantryAxis === 'x' ? 'x' : 'y',
  });
}

function measure({ input }: SimulatedNetwork, file: MachineFile): Measurement {
  const gantryAxis = file.gantryAxis ?? 'y';
  const layout = { ...input.layout, gantryAxis };
  const estimates = estimateMachine(unwrap(adjust({ ...input, layout })));
  const measurement: Measurement = {
    schema: MEASUREMENT_SCHEMA_ID,
    tool: { name: 'gantrue', version: '0' },
    measuredAt: '2026-11-20T10:00:00Z',
    gantryAxis,
    squareness: estimates.squareness,
    scale: estimates.scale,
    lostMotion: estimates.lostMotion,
    straightness: estimates.straightness,
    racking: estimates.racking,
    photos: [],
    camera: [],
    placements: [],
    deviations: [],
    evidence: [...estimates.evidence],
    verdicts: [],
    proposals: [],
    findings: [],
    warnings: [],
  };
  return {
    ...measurement,
    verdicts: judge(measurement, file),
    proposals: propose(measurement, file, undefined),
  };
}

function compare(before: Measurement, after: Measurement): (what: ComparedName) => Compared {
  const [first, second] = [before, after].map((measurement, i) => ({ file: `${i}`, measurement }));
  const { quantities } = unwrap(compareMeasurements(first!, second!));
  return (what) => quantities.find((one) => one.what === what)!;
}

function trueValue(truth: MachineTruth, what: Corrected['what']): number {
  switch (what) {
    case 'squareness':
      return truth.squareness;
    case 'scale.x':
      return truth.scale.x;
    case 'scale.y':
      return truth.scale.y;
    case 'lostMotion.x':
      return truth.lostMotion.x;
    case 'lostMotion.y':
      return truth.lostMotion.y;
  }
}

export interface LoopTable {
  readonly quantity: string;
  readonly proposed: number;
  readonly leftAlone: number;
  readonly open: number;
  /** Of the proposed ones: true value within U of zero. */
  readonly withinU: number;
  /** Of those left alone: true value within U of zero or inside the limit. */
  readonly leftWell: number;
  /** Of the proposed ones: measured again within the root of the sum of squares of both U of zero. */
  readonly againWithin: number;
  /** Of the proposed ones: true error grew. */
  readonly worse: number;
  /** `compare`: did what was proposed; wrong way, where it was not. */
  readonly confirmed: number;
  readonly falselyWrong: number;
  /** Swapped: told as the wrong way; proposed change over U of the change of the largest that was not. */
  readonly swapSeen: number;
  readonly swapMissed: string;
}

const U_OF = (quantity: Quantity) => (quantity.state === 'undetermined' ? Number.NaN : quantity.U);

/** Proposed change over U of the change: how plainly a correction shows. */
export function plainness({ swapped }: Corrected): number {
  return Math.abs(swapped.proposed!.change) / swapped.change!.U;
}

/** One row per quantity, and one of all. */
export function tabulateLoop(all: readonly Corrected[]): LoopTable[] {
  const row = (quantity: string, some: readonly Corrected[]): LoopTable => {
    const proposed = some.filter(({ proposal }) => !proposal.leaveAlone);
    const isTold = ({ before }: Corrected) => before.state === 'measured';
    const left = some.filter((one) => one.proposal.leaveAlone && isTold(one));
    const missed = proposed.filter(({ swapped }) => swapped.verdict !== 'moved the wrong way');
    const count = (list: readonly Corrected[], is: (one: Corrected) => boolean) =>
      list.filter(is).length;
    return {
      quantity,
      proposed: proposed.length,
      leftAlone: left.length,
      open: some.length - proposed.length - left.length,
      withinU: count(proposed, (one) => Math.abs(one.truthAfter) <= U_OF(one.before)),
      leftWell: count(
        left,
        (one) => Math.abs(one.truthAfter) <= Math.max(one.limit, U_OF(one.before)),
      ),
      againWithin: count(
        proposed,
        (one) =>
          one.after.state !== 'undetermined' &&
          Math.abs(one.after.value) <= Math.hypot(U_OF(one.before), U_OF(one.after)),
      ),
      worse: count(proposed, (one) => Math.abs(one.truthAfter) > Math.abs(one.truthBefore)),
      confirmed: count(proposed, ({ compared }) => compared.verdict === 'did what was proposed'),
      falselyWrong: count(proposed, ({ compared }) => compared.verdict === 'moved the wrong way'),
      swapSeen: proposed.length - missed.length,
      swapMissed: missed.map((one) => plainness(one).toFixed(2)).join(' '),
    };
  };
  return [
    ...SET_RIGHT.map((what) =>
      row(
        what,
        all.filter((one) => one.what === what),
      ),
    ),
    row('all', all),
  ];
}
