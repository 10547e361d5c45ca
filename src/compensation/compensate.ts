/** A program and a measurement → the program that lands true on that machine. */

import { createHash } from 'node:crypto';
import type { MachineFile } from '../../shared/schemas/machine.js';
import type { Measurement } from '../../shared/schemas/measurement.js';
import { whyScaleWithheld } from '../correction/index.js';
import {
  type Envelope,
  isMarkedCompensated,
  readCommands,
  traceProgram,
} from '../program/index.js';
import { type Finding, failed, type Outcome, success } from '../quantity/index.js';
import { checkResult, datumOf, envelopeOf } from './check-result.js';
import {
  type ChosenTerms,
  type CompensatedTerm,
  chooseTerms,
  type LandingTerms,
} from './choose-terms.js';
import { cautionsFor, doubtCompensation } from './doubt-compensation.js';
import { addHeader } from './header.js';
import { landingMap, type Point } from './landing-map.js';
import { type Refusal, refuseUnsafe } from './refuse-unsafe.js';
import { rewriteProgram } from './rewrite-program.js';
import type { RewriteCounts } from './rewriter.js';
import { seenOn } from './seen-on.js';

export const COMPENSATION_SCHEMA_ID = 'gantrue/compensation/1';

/** Chords and pieces stay within this of the path, mm: a tenth of what a wood router can show. */
export const DEFAULT_TOLERANCE_MM = 0.005;

export interface CompensateRequest {
  /** What the program is called in failures. */
  readonly name: string;
  readonly text: string;
  readonly measurement: Measurement;
  /** SHA-256 of the measurement's file, hexadecimal. */
  readonly measurementSha256: string;
  readonly machine?: MachineFile | undefined;
  readonly wanted: ReadonlySet<CompensatedTerm>;
  readonly toleranceMm: number;
  /** The program's zero in the coordinates of the grid's program, mm. */
  readonly zeroMm: Point;
}

export interface CompensationRecord {
  readonly schema: typeof COMPENSATION_SCHEMA_ID;
  readonly program: string;
  /** Of the original's text and of the compensated one in UTF-8. */
  readonly sha256: string;
  readonly compensatedSha256: string;
  readonly measurement: {
    readonly measuredAt: string;
    readonly machine?: string;
    readonly sha256: string;
  };
  readonly toleranceMm: number;
  readonly origin: { readonly x: number; readonly y: number };
  readonly used: ChosenTerms['used'];
  readonly leftOut: ChosenTerms['leftOut'];
  readonly lines: Readonly<RewriteCounts> & {
    readonly read: number;
    readonly written: number;
    /** Loops and subprograms were written out. */
    readonly expanded: boolean;
  };
  /** Where the program moves, in its own coordinates, mm. */
  readonly envelope: { readonly before: Envelope; readonly after: Envelope };
  /** Largest distance of a command from the place where it is to land. */
  readonly largestChangeMm: number;
  /** What rounding leaves at the ends of moves, by the map itself. */
  readonly largestMissMm: number;
  readonly findings: readonly Finding[];
  readonly cautions: readonly string[];
}

export interface Compensation {
  readonly text: string;
  readonly record: CompensationRecord;
}

/**
 * Compensates a program by the inverse of the machine's map without lost motion.
 *
 * Fails: PROGRAM_INVALID; ALREADY_COMPENSATED; NOTHING_TO_COMPENSATE; COMPENSATION_UNSAFE (every line
 * named); TRAVEL_EXCEEDED.
 */
export function compensate(request: CompensateRequest): Outcome<Compensation> {
  const { name, text, measurement, zeroMm, toleranceMm } = request;
  const sha256 = digest(text);
  const refused = refuseProgram(request, sha256);
  if (refused !== undefined) return refused;
  const stale = refuseStale(measurement);
  if (stale !== undefined) return stale;
  const chosen = chooseTerms(withoutDoubtfulScale(measurement), request.wanted);
  if (chosen.used.length === 0) return refuseNothing(chosen);

  const excess = refuseExcess(chosen.terms);
  if (excess !== undefined) return excess;

  const read = readCommands(text, { name, marking: 'auto', blockDelete: false });
  const trace = traceProgram(name, text, false);
  if (!trace.ok) return trace;
  const { lines } = trace.value;
  const datum = datumOf(lines);
  if (datum === undefined) {
    return failed('COMPENSATION_UNSAFE', 'the program moves neither X nor Y', {
      where: name,
      hint: 'there is nothing to compensate in it: run it as it is',
    });
  }
  const unsafe = refuseUnsafe(lines, datum);
  if (unsafe.length > 0) return refuseLines(name, unsafe);

  const map = landingMap(chosen.terms, zeroMm);
  const rewritten = rewriteProgram({
    text,
    trace: trace.value,
    datum,
    zeroMm,
    map,
    toleranceMm,
  });
  if (rewritten.refusals.length > 0) return refuseLines(name, rewritten.refusals);
  const { measuredAt, machine } = measurement;
  const { measurementSha256 } = request;
  const headed = addHeader(rewritten.text, {
    ...{ seenOn: seenOn(measurement), machine, measurementSha256, toleranceMm, zeroMm },
    used: chosen.used,
  });
  const checked = checkResult(name, headed, rewritten.ends, map, zeroMm);
  if (!checked.ok) throw checked.failure;

  const envelope = { before: envelopeOf(lines), after: checked.value.envelopeMm };
  const outside = refuseTravel(name, envelope, request.machine);
  if (outside !== undefined) return outside;
  return success({
    text: headed,
    record: {
      schema: COMPENSATION_SCHEMA_ID,
      program: name,
      sha256,
      compensatedSha256: digest(headed),
      measurement: {
        measuredAt,
        ...(machine === undefined ? {} : { machine }),
        sha256: measurementSha256,
      },
      toleranceMm,
      origin: { x: zeroMm[0], y: zeroMm[1] },
      used: chosen.used,
      leftOut: chosen.leftOut,
      lines: {
        read: countLines(text),
        written: countLines(headed),
        ...rewritten.counts,
        expanded: trace.value.hasFlow,
      },
      envelope,
      largestChangeMm: rewritten.largestChangeMm,
      largestMissMm: checked.value.largestMissMm,
      findings: [
        ...(read.ok ? read.value.findings.filter(({ code }) => TOLD.has(code)) : []),
        ...doubtCompensation(request, trace.value, chosen.terms, map),
      ],
      cautions: cautionsFor(request),
    },
  });
}

/** What the reader found that bears on a program which is to be run. */
const TOLD: ReadonlySet<string> = new Set([
  'PROGRAM_END_MISSING',
  'PROGRAM_UNITS_UNSTATED',
  'PROGRAM_START_ASSUMED',
  'PROGRAM_WORDS_PASSED_OVER',
]);

function digest(text: string): string {
  return createHash('sha256').update(text, 'utf8').digest('hex');
}

function countLines(text: string): number {
  return text.split(/\r\n|\n|\r/).filter((line) => line !== '').length;
}

function refuseProgram(
  { name, text, measurement }: CompensateRequest,
  sha256: string,
): ReturnType<typeof failed> | undefined {
  if (isMarkedCompensated(text)) {
    return failed('ALREADY_COMPENSATED', 'the program is compensated already', {
      where: name,
      hint: 'compensate the original program instead: twice would be wrong by as much as not at all',
    });
  }
  if (measurement.placements.some((placement) => placement.sha256 === sha256)) {
    return failed('COMPENSATION_UNSAFE', 'this is the program that marked the grid', {
      where: name,
      hint: 'mark grids with it as it is: a compensated one would hide the errors it is to show',
    });
  }
  return undefined;
}

function refuseNothing({ leftOut }: ChosenTerms): ReturnType<typeof failed> {
  const reasons = leftOut.map(({ what, why }) => `  ${what}: ${why}`);
  const add = [...new Set(leftOut.flatMap((one) => one.add))];
  return failed(
    'NOTHING_TO_COMPENSATE',
    ['the measurement holds nothing to compensate for', ...reasons].join('\n'),
    { hint: add.length > 0 ? `add ${add.join('; ')}` : 'run the program as it is' },
  );
}

/** No machine is built so badly, mm per mm: such an error is a wrong setting or mixed units. */
const LARGEST_SLOPE = 0.05;

function refuseExcess({ scaleX, scaleY, squarenessRad }: LandingTerms) {
  const slopes = { 'scale X': scaleX, 'scale Y': scaleY, squareness: squarenessRad };
  for (const [what, slope] of Object.entries(slopes)) {
    if (Math.abs(slope) <= LARGEST_SLOPE) continue;
    return failed(
      'COMPENSATION_UNSAFE',
      `${what} is off by ${(1000 * slope).toFixed(0)} mm/m: a wrong setting, nothing to compensate for`,
      { hint: 'correct the steps per unit or the units, then measure again' },
    );
  }
  return undefined;
}

/** More are seldom read; a generator repeats the same thing on thousands of lines. */
const MOST_TOLD = 12;

function refuseLines(name: string, refusals: readonly Refusal[]): ReturnType<typeof failed> {
  const told = refusals.slice(0, MOST_TOLD);
  const more = refusals.length - told.length;
  const lines = told.map(({ line, what, hint }) => `  line ${line}: ${what}; ${hint}`);
  if (more > 0) lines.push(`  and ${more} more`);
  return failed(
    'COMPENSATION_UNSAFE',
    ['the program cannot be compensated safely; nothing was written', ...lines].join('\n'),
    { where: name, figures: { lines: refusals.map(({ line }) => line).join(',') } },
  );
}

/** Rounding of travels that people read off, mm. */
const SAME_TRAVEL_MM = 1e-6;

/** Where zero lies in the travel is not known; that the program fits in at all is. */
function refuseTravel(
  name: string,
  { before, after }: CompensationRecord['envelope'],
  machine: MachineFile | undefined,
): ReturnType<typeof failed> | undefined {
  for (const axis of ['x', 'y'] as const) {
    const travel = machine?.travel?.[axis];
    const [was, is] = [before[axis], after[axis]];
    if (travel === undefined || was === undefined || is === undefined) continue;
    const [neededBefore, needed] = [was[1] - was[0], is[1] - is[0]];
    if (neededBefore > travel + SAME_TRAVEL_MM || needed <= travel + SAME_TRAVEL_MM) continue;
    const name_ = axis.toUpperCase();
    return failed(
      'TRAVEL_EXCEEDED',
      `compensated, the program needs ${needed.toFixed(3)} mm along ${name_}; the travel is ${travel} mm`,
      {
        where: name,
        hint: `make the part smaller or correct the machine; before it needed ${neededBefore.toFixed(3)} mm`,
      },
    );
  }
  return undefined;
}

/** Fresh marks that do not bear the old ones out speak of another machine than today's. */
function refuseStale({ fresh }: Measurement): ReturnType<typeof failed> | undefined {
  if (fresh === undefined || fresh.explainedBy === 'nothing') return undefined;
  return failed(
    'COMPENSATION_UNSAFE',
    'the measurement tells of old marks, and fresh marks beside them do not bear them out',
    { hint: 'measure the fresh marks by themselves, and compensate by that' },
  );
}

/** What withholds steps per unit, old marks or lengths that contradict each other, withholds the scales here too. */
function withoutDoubtfulScale(measurement: Measurement): Measurement {
  const why = whyScaleWithheld(measurement.proposals);
  if (why === undefined) return measurement;
  const open = { state: 'undetermined' as const, reason: why, add: [] };
  return { ...measurement, scale: { x: open, y: open, ratio: open } };
}
