/** Machine or board: which of them the changes speak for, and what would decide. */

import { QUANTITY_UNIT } from '../../shared/quantity-keys.js';
import type {
  DriftExplanation,
  DriftMove,
  DriftQuantity,
  DriftSeen,
  DriftSeries,
  DriftTodo,
} from '../../shared/schemas/drift.js';
import type { MeasurementRow, QuantityName } from '../history/index.js';
import { studentQuantile } from '../numerics/index.js';
import { RISK } from './judge-values.js';
import type { StretchValues } from './values-of.js';

export interface ExplainedStretch {
  readonly series: DriftSeries;
  /** Of the stretch. */
  readonly rows: readonly MeasurementRow[];
  /** Of each quantity. */
  readonly values: ReadonlyMap<QuantityName, StretchValues>;
}

/**
 * MDF lengthens by 0.025 to 0.06 mm/m per point of relative humidity: makers' figures give 2.5 mm/m from 35 to 85 %
 * (0.05 % per 1 % of moisture), EN 318 tests 1.5 to 3 mm/m over 55 points (from memory).
 */
const MDF_PER_POINT = { low: 0.025e-3, high: 0.06e-3 };
/** A smaller change of the air is no argument. */
export const LEAST_HUMIDITY = 5;
/** Other boards move by less or more than MDF. */
const BOARDS_DIFFER = 2.5;
/** A board that swells keeps its angles; this part of the mean growth may be the camera's or the board's grain. */
const ANGLE_SHARE = 0.25;

/**
 * Old marks cannot change by the machine: what they show is the board, both scales together and the angle hardly.
 * Fresh marks show the machine. Of marks of unknown age a changed angle, play or bend speaks for the machine; both
 * scales alike may be either, unless the humidity tells.
 */
export function explainChange(stretches: readonly ExplainedStretch[]): DriftExplanation {
  // One measurement is no change.
  if (stretches.every(({ rows }) => rows.length < 2)) {
    return { verdict: 'cannot tell', seen: [], todo: ['measure more'] };
  }
  const seen = stretches.map(see);
  const [machine] = stretches.filter(({ series }) => series.shows === 'machine');
  const boards = seen.filter(({ shows }) => shows === 'board');
  const isBoardMoving = boards.some(isSwelling);
  const ofMachine =
    machine === undefined ? 'unseen' : judgeMachine(machine, seen[stretches.indexOf(machine)]!);
  const isMachineMoving = ofMachine === 'moves';
  const verdict: DriftExplanation['verdict'] =
    isMachineMoving && isBoardMoving
      ? 'both'
      : isMachineMoving
        ? 'machine'
        : ofMachine === 'cannot tell' && !isBoardMoving
          ? 'cannot tell'
          : isBoardMoving || ofMachine === 'board'
            ? 'board'
            : 'neither';
  return { verdict, seen, todo: listTodo(verdict, machine?.series, boards.length > 0) };
}

function see({ series, rows, values }: ExplainedStretch): DriftSeen {
  const { shows, board, unknownMarks, from } = series;
  const moves = (['scale.x', 'scale.y', 'squareness'] as const).flatMap(
    (what) => moveOf(values.get(what), what, series.quantities) ?? [],
  );
  const humidity = humidityOf(rows, moves);
  return {
    shows,
    ...(board === undefined ? {} : { board }),
    marks: shows === 'board' ? 'old' : unknownMarks > 0 ? 'unknown' : 'fresh',
    since: from,
    moves,
    ...(humidity === undefined ? {} : { humidity }),
  };
}

/** From the first third of the values to the last, or as far as trend or jump have carried it. */
function moveOf(
  data: StretchValues | undefined,
  what: QuantityName,
  quantities: readonly DriftQuantity[],
): DriftMove | undefined {
  if (data === undefined || data.values.length < 2) return undefined;
  const { values, u } = data;
  const n = values.length;
  const third = Math.max(1, Math.floor(n / 3));
  const change = mean(values.slice(-third)) - mean(values.slice(0, third));
  const told = quantities.find((quantity) => quantity.what === what);
  const isCalled = told?.verdict === 'drifts' || told?.verdict === 'jumped';
  const isMany = n >= LEAST_FOR_RANGES;
  const sigma = isMany ? told!.noise!.fromRanges : mean(u);
  const perSigma = sigma * Math.sqrt(2 / third);
  const U = 2 * perSigma;
  const k = studentQuantile(RISK, isMany ? n - 2 : Number.POSITIVE_INFINITY);
  return {
    what,
    unit: QUANTITY_UNIT[what],
    change,
    U,
    moved: isCalled || Math.abs(change) > k * perSigma,
  };
}

/** With fewer, moving ranges are a poor judge of the scatter. */
const LEAST_FOR_RANGES = 6;

function humidityOf(
  rows: readonly MeasurementRow[],
  moves: readonly DriftMove[],
): DriftSeen['humidity'] {
  const told = rows.flatMap(({ humidity }) => humidity ?? []);
  if (told.length < 2 || told.length < rows.length / 2) return undefined;
  const third = Math.max(1, Math.floor(told.length / 3));
  const change = mean(told.slice(-third)) - mean(told.slice(0, third));
  const ends = [MDF_PER_POINT.low * change, MDF_PER_POINT.high * change].sort((a, b) => a - b);
  const grown = scaleChange(moves);
  const fits =
    Math.abs(change) >= LEAST_HUMIDITY &&
    grown !== undefined &&
    Math.sign(grown) === Math.sign(change) &&
    Math.abs(grown) <= BOARDS_DIFFER * MDF_PER_POINT.high * Math.abs(change) &&
    Math.abs(grown) >= (MDF_PER_POINT.low * Math.abs(change)) / BOARDS_DIFFER;
  return { change, expected: { low: ends[0]!, high: ends[1]! }, fits };
}

/** Mean change of both scales. */
function scaleChange(moves: readonly DriftMove[]): number | undefined {
  const both = moves.filter(({ what }) => what !== 'squareness');
  return both.length < 2 ? undefined : mean(both.map(({ change }) => change));
}

function isSwelling({ moves }: DriftSeen): boolean {
  return moves.some(({ what, moved }) => moved && what !== 'squareness');
}

type OfMachine = 'moves' | 'board' | 'cannot tell' | 'still' | 'unseen';

function judgeMachine({ series, rows }: ExplainedStretch, seen: DriftSeen): OfMachine {
  const called = series.quantities
    .filter(({ verdict }) => verdict === 'drifts' || verdict === 'jumped')
    .map(({ what }) => what);
  if (seen.marks === 'fresh') return called.length > 0 ? 'moves' : 'still';
  const scales = seen.moves.filter(({ what }) => what !== 'squareness');
  const isAlike =
    scales.length === 2 &&
    scales.every(({ moved }) => moved) &&
    scales[0]!.change * scales[1]!.change > 0;
  const angle = seen.moves.find(({ what }) => what === 'squareness');
  const isAngleStill =
    angle === undefined ||
    !angle.moved ||
    Math.abs(angle.change) < ANGLE_SHARE * Math.abs(scaleChange(seen.moves) ?? 0);
  const beyondScale = called.filter((what) => !what.startsWith('scale.'));
  if (beyondScale.some((what) => what !== 'squareness' || !isAngleStill)) return 'moves';
  if (!scales.some(({ moved }) => moved)) return 'still';
  if (isAlike && isAngleStill && seen.humidity?.fits === true && isWooden(rows)) return 'board';
  return 'cannot tell';
}

/** Of a board of which nothing is said as well: nearly all are of wood. */
function isWooden(rows: readonly MeasurementRow[]): boolean {
  const material = rows.findLast(({ board }) => board.material)?.board.material ?? '';
  return !/alu|steel|iron|metal|glass|granite|stone|acryl|pvc|hdpe|pe\b|phenol/i.test(material);
}

function listTodo(
  verdict: DriftExplanation['verdict'],
  machine: DriftSeries | undefined,
  hasBoards: boolean,
): DriftTodo[] {
  const todo: DriftTodo[] = [];
  const isUnknown = (machine?.unknownMarks ?? 0) > 0;
  if (verdict === 'machine' || verdict === 'both') todo.push('mend machine');
  if (verdict === 'board' || verdict === 'both') todo.push('leave steps');
  // Of the machine itself nothing was seen, or nothing that can be told from the board.
  if (verdict === 'cannot tell' || (hasBoards && machine === undefined)) todo.push('fresh ladder');
  if (isUnknown) todo.push('state marks');
  if (machine?.quantities.some(({ verdict: one }) => one === 'scatters'))
    todo.push('look for play');
  if (machine?.quantities.every(({ verdict: one }) => one === 'too few')) {
    todo.push('measure more');
  }
  return todo;
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
