/** What a program would mark, whether it fits the machine, and what its grid can tell of it. */

import type { Stroke } from '../../shared/stroke.js';
import { orthogonalPolynomials } from '../numerics/index.js';
import {
  approachAcross,
  describeGrid,
  FEWEST_MEASURED_LINES,
  type Grid,
  type GridLine,
  lookAlikeRotations,
  type QuarterTurn,
  SAME_LINE_MM,
  strokeExtent,
} from '../program/index.js';
import { phaseInformation, USUAL_PERIODS_MM } from './ladder-pitch.js';
import { shown } from './round-to.js';

type Axis = 'x' | 'y';
type Range = readonly [from: number, to: number];

export interface CheckedProgram {
  readonly strokes: readonly Stroke[];
  readonly holes: readonly CheckedHole[];
  /** Of all motions, commanded coordinates, mm; undefined where an axis never has a known place. */
  readonly envelopeMm: { readonly x: Range | undefined; readonly y: Range | undefined };
}

export interface CheckedHole {
  readonly centreMm: readonly [x: number, y: number];
  readonly steps: readonly { readonly pathDiameterMm: number }[];
  readonly sourceLine: number;
}

export interface CheckOptions {
  /** Travel along X and Y, mm. */
  readonly travelMm?: readonly [x: number, y: number];
  /** Lengths after which the drives' errors repeat, mm. */
  readonly periodsMm: { readonly x?: number; readonly y?: number };
  /** Added to the diameter of paths, mm. */
  readonly toolDiameterMm: number;
}

export interface LineSummary {
  readonly count: number;
  /** mm. */
  readonly from: number;
  readonly to: number;
  /** Smallest and largest distance of neighbours, mm. */
  readonly spacing: Range;
}

export interface HolePlace {
  readonly centreMm: readonly [x: number, y: number];
  readonly sourceLine: number;
  /** mm; 0: not known. */
  readonly diametersMm: readonly number[];
  /** Distance to the nearest line at constant X and at constant Y, signed, mm; undefined without lines. */
  readonly offMm: readonly [x: number | undefined, y: number | undefined];
  readonly sits: 'node' | 'line' | 'between';
  /** So near to a line that it should lie on it, but does not. */
  readonly isSuspect: boolean;
}

export interface Fit {
  /** Extent of all motions, mm. */
  readonly neededMm: number;
  readonly travelMm: number | undefined;
  /** Undefined where the travel is not known. */
  readonly isInside: boolean | undefined;
  /** Where zero may lie, from the low end of the travel, mm. */
  readonly zeroMm: Range | undefined;
}

export type Revealed = 'yes' | 'no' | 'partly';

export interface Revelation {
  readonly what: string;
  readonly revealed: Revealed;
  readonly why: string;
}

export interface ProgramCheck {
  readonly strokes: number;
  readonly otherMarks: number;
  readonly lines: { readonly x: LineSummary | undefined; readonly y: LineSummary | undefined };
  /** Of the marks, mm. */
  readonly extent: { readonly x: Range; readonly y: Range } | undefined;
  readonly fit: { readonly x: Fit | undefined; readonly y: Fit | undefined };
  readonly holes: readonly HolePlace[];
  readonly reveals: readonly Revelation[];
}

/** Farther from its line than this a hole is off it, mm: rounding of inches, finer than any cut. */
export const ON_LINE_MM = 0.01;

/** A hole this near to a line should lie on it: the largest distance, mm, and in parts of the spacing. */
const MEANT_MM = 5;
const MEANT_SHARE = 0.2;

/** Share of the approach's alternation that no smooth straightness can imitate; less mixes the two. */
const LEAST_ALTERNATION = 0.3;
/** Highest degree of a smooth straightness. */
const SMOOTH_DEGREE = 6;

/** Per position, relative to the best that so many positions could do. */
const LEAST_PHASE_SHARE = 0.2;

/** Positions fewer than these tell nothing about a sine beside their own scatter. */
const FEWEST_POSITIONS = 5;

export function checkProgram(program: CheckedProgram, options: CheckOptions): ProgramCheck {
  const described = describeGrid(program.strokes);
  const grid = described.ok ? described.value : undefined;
  const meant = [meantMm(grid?.linesAtX), meantMm(grid?.linesAtY)] as const;
  const travel = (axis: Axis) =>
    fitOf(program.envelopeMm[axis], options.travelMm?.[axis === 'x' ? 0 : 1]);
  return {
    strokes: program.strokes.length,
    otherMarks: grid?.otherStrokes.length ?? program.strokes.length,
    lines: { x: summarise(grid?.linesAtX), y: summarise(grid?.linesAtY) },
    extent: strokeExtent(program.strokes),
    fit: { x: travel('x'), y: travel('y') },
    holes: program.holes.map((hole) => placeHole(hole, grid, meant, options.toolDiameterMm)),
    reveals:
      grid === undefined
        ? [
            {
              what: 'anything of the machine',
              revealed: 'no',
              why: described.ok ? '' : described.failure.message,
            },
          ]
        : revelations(program.strokes, grid, options),
  };
}

function summarise(lines: readonly GridLine[] | undefined): LineSummary | undefined {
  if (lines === undefined || lines.length === 0) return undefined;
  const positions = lines.map((line) => line.positionMm);
  const steps = positions.slice(1).map((position, i) => position - positions[i]!);
  return {
    count: lines.length,
    from: positions[0]!,
    to: positions.at(-1)!,
    spacing: [Math.min(...steps), Math.max(...steps)],
  };
}

function fitOf(envelope: Range | undefined, travelMm: number | undefined): Fit | undefined {
  if (envelope === undefined) return undefined;
  const neededMm = envelope[1] - envelope[0];
  const isInside = travelMm === undefined ? undefined : neededMm <= travelMm + ON_LINE_MM;
  return {
    neededMm,
    travelMm,
    isInside,
    zeroMm:
      travelMm === undefined || !isInside ? undefined : [-envelope[0], travelMm - envelope[1]],
  };
}

function placeHole(
  hole: CheckedHole,
  grid: Grid | undefined,
  meant: readonly [x: number, y: number],
  toolDiameterMm: number,
): HolePlace {
  const offMm = [
    offNearest(grid?.linesAtX, hole.centreMm[0]),
    offNearest(grid?.linesAtY, hole.centreMm[1]),
  ] as const;
  const on = offMm.filter((off) => off !== undefined && Math.abs(off) <= ON_LINE_MM).length;
  return {
    centreMm: hole.centreMm,
    sourceLine: hole.sourceLine,
    diametersMm: hole.steps.map(({ pathDiameterMm }) =>
      pathDiameterMm === 0 && toolDiameterMm === 0 ? 0 : pathDiameterMm + toolDiameterMm,
    ),
    offMm,
    sits: on === 2 ? 'node' : on === 1 ? 'line' : 'between',
    isSuspect: offMm.some(
      (off, axis) =>
        off !== undefined && Math.abs(off) > ON_LINE_MM && Math.abs(off) <= meant[axis]!,
    ),
  };
}

/** How near to a line a hole is meant to lie on it, mm. */
function meantMm(lines: readonly GridLine[] | undefined): number {
  const spacing = summarise(lines)?.spacing[0] ?? 0;
  return Math.min(MEANT_MM, MEANT_SHARE * spacing);
}

function offNearest(lines: readonly GridLine[] | undefined, place: number): number | undefined {
  let nearest: number | undefined;
  for (const { positionMm } of lines ?? []) {
    const off = place - positionMm;
    if (nearest === undefined || Math.abs(off) < Math.abs(nearest)) nearest = off;
  }
  return nearest;
}

function revelations(strokes: readonly Stroke[], grid: Grid, options: CheckOptions): Revelation[] {
  return [
    tellShape(grid),
    ...(['x', 'y'] as const).map((axis) => tellLostMotion(strokes, grid, axis)),
    ...(['x', 'y'] as const).map((axis) => tellPeriodic(grid, axis, options.periodsMm[axis])),
    ...(['x', 'y'] as const).map((axis) => tellDrift(grid, axis)),
    tellOrientation(lookAlikeRotations(grid, strokes)),
  ];
}

function tellShape({ linesAtX, linesAtY }: Grid): Revelation {
  const fewest = Math.min(linesAtX.length, linesAtY.length);
  const isEnough = fewest >= FEWEST_MEASURED_LINES;
  return {
    what: 'squareness, scale, straightness, racking',
    revealed: isEnough ? 'yes' : 'no',
    why: isEnough
      ? 'lines along both axes; the photos decide how well, scale needs a taped length'
      : `only ${fewest} lines along one axis, expected at least ${FEWEST_MEASURED_LINES}`,
  };
}

function tellLostMotion(strokes: readonly Stroke[], grid: Grid, axis: Axis): Revelation {
  const what = `lost motion ${axis.toUpperCase()}`;
  const name = `line at constant ${axis.toUpperCase()}`;
  const pieces = piecesOf(strokes, grid, axis);
  const senses = new Set(pieces.map(({ approach }) => approach));
  if (!senses.has(1) && !senses.has(-1)) {
    return {
      what,
      revealed: 'no',
      why: `the program does not say from which side any ${name} is reached`,
    };
  }
  if (!(senses.has(1) && senses.has(-1))) {
    return {
      what,
      revealed: 'no',
      why: `no ${name} is reached from both sides: mark each in two halves, one from each side`,
    };
  }
  const own = alternation(pieces);
  if (own < LEAST_ALTERNATION) {
    return {
      what,
      revealed: 'partly',
      why: 'the same part of every line is reached from the same side: lost motion and straightness mix; let the halves change sides from line to line',
    };
  }
  return { what, revealed: 'yes', why: 'both sides on lines, changing from line to line' };
}

interface Piece {
  readonly middle: number;
  readonly length: number;
  readonly approach: number;
}

/** Marks on lines across an axis: place along the line, approach across it. */
function piecesOf(strokes: readonly Stroke[], grid: Grid, axis: Axis): Piece[] {
  const along = axis === 'x' ? 1 : 0;
  const byId = new Map(strokes.map((stroke) => [stroke.id, stroke]));
  return linesOf(grid, axis).flatMap((line) =>
    line.strokes.map((id) => {
      const stroke = byId.get(id)!;
      return {
        middle: (stroke.fromMm[along] + stroke.toMm[along]) / 2,
        length: Math.abs(stroke.toMm[along] - stroke.fromMm[along]),
        approach: approachAcross(stroke, axis),
      };
    }),
  );
}

function linesOf(grid: Grid, axis: Axis): readonly GridLine[] {
  return axis === 'x' ? grid.linesAtX : grid.linesAtY;
}

/**
 * The part of the approach's variance, by length, that no smooth function of the place along the
 * lines explains: 1 where the sides change from line to line, 0 where one half is always the forward one.
 */
function alternation(pieces: readonly Piece[]): number {
  /** By place: marked length, and the same counted with the sign of the approach. */
  const places = new Map<number, { length: number; signed: number }>();
  for (const { middle, length, approach } of pieces) {
    if (approach === 0) continue;
    const place = Math.round(middle / SAME_LINE_MM) * SAME_LINE_MM;
    const sum = places.get(place) ?? { length: 0, signed: 0 };
    places.set(place, { length: sum.length + length, signed: sum.signed + approach * length });
  }
  const sums = [...places.values()];
  const smooth = orthogonalPolynomials(
    [...places.keys()],
    SMOOTH_DEGREE,
    sums.map(({ length }) => length),
  );
  const all = sums.reduce((sum, { length }) => sum + length, 0);
  // The squares of the approaches are 1, those of each polynomial sum up to the whole length.
  const squares = Array.from({ length: smooth.degree + 1 }, (_, degree) => {
    const product = [...places].reduce(
      (sum, [place, { signed }]) => sum + signed * smooth.evaluate(degree, place),
      0,
    );
    return product ** 2 / all;
  });
  const variance = all - squares[0]!;
  const rest = all - squares.reduce((sum, square) => sum + square, 0);
  return variance > 0 ? rest / variance : 0;
}

function tellPeriodic(grid: Grid, axis: Axis, period: number | undefined): Revelation {
  const what = `periodic error ${axis.toUpperCase()}`;
  const positions = positionsAcross(grid, axis);
  const hidden = (of: number) => isHidden(positions, of);
  if (period !== undefined) {
    return hidden(period)
      ? {
          what,
          revealed: 'no',
          why: `marks ${axis === 'x' ? 'across X' : 'across Y'} meet a period of ${shown(period)} mm at too few of its phases: add a ladder of short strokes at another distance`,
        }
      : {
          what,
          revealed: 'yes',
          why: `a period of ${shown(period)} mm is met at many of its phases`,
        };
  }
  const blind = USUAL_PERIODS_MM.filter(hidden);
  if (blind.length === 0) {
    return {
      what,
      revealed: 'yes',
      why: 'usual leads and travels per turn are met at many of their phases; the machine file says which one counts',
    };
  }
  return {
    what,
    revealed: blind.length === USUAL_PERIODS_MM.length ? 'no' : 'partly',
    why: `hidden for periods of ${blind.map(shown).join(', ')} mm: the marks meet them at too few of their phases`,
  };
}

/** Lines of the grid and rungs: all places at which the axis' positioning is seen. */
function positionsAcross(grid: Grid, axis: Axis): number[] {
  const rungs = axis === 'x' ? grid.rungsAtX : grid.rungsAtY;
  return [...linesOf(grid, axis), ...rungs].map(({ positionMm }) => positionMm);
}

function isHidden(positions: readonly number[], period: number): boolean {
  if (positions.length < FEWEST_POSITIONS) return true;
  // Spread evenly over all phases, n positions give n/2 to the sine and n/2 to the cosine.
  return phaseInformation(positions, period) < (LEAST_PHASE_SHARE * positions.length) / 2;
}

function tellDrift(grid: Grid, axis: Axis): Revelation {
  const what = `drift ${axis.toUpperCase()} while marking`;
  const isRepeated = grid.repeated[axis].length > 0;
  return {
    what,
    revealed: isRepeated ? 'yes' : 'no',
    why: isRepeated
      ? 'parts of a line are marked once more, much later'
      : `no line at constant ${axis.toUpperCase()} is marked again at the end`,
  };
}

function tellOrientation(turns: readonly QuarterTurn[]): Revelation {
  return {
    what: 'which way round the grid lies',
    revealed: turns.length === 0 ? 'yes' : 'no',
    why:
      turns.length === 0
        ? 'no turn maps the marks onto themselves'
        : `turned by ${turns.join(', ')} degrees the marks look the same: add an origin mark, or say where the origin lies with --origin`,
  };
}
