/** Strokes of the grid → board segments: the clean stretches between crossings that are measured. */

import type { Approach, Stroke } from '../../shared/stroke.js';
import type { Finding } from '../quantity/index.js';
import { approachAcross, type Grid, type GridLine, SAME_LINE_MM } from './describe-grid.js';
import { marksBeside, type StraightMark, spoiltBy } from './marks-beside.js';

export interface BoardSegment {
  /** Index in the list, from 0. */
  readonly id: number;
  readonly strokeId: number;
  /** 'x': part of a line at constant X, measured across, in X. 'y': the same in Y. */
  readonly axis: 'x' | 'y';
  /** Index in the grid's linesAtX followed by rungsAtX, or in the same of Y. */
  readonly lineIndex: number;
  readonly isRung: boolean;
  /** Marked once more, much later than the rest of its line. */
  readonly isRepeated: boolean;
  /** Commanded ends, mm, by rising coordinate along the line, whatever way it was marked. */
  readonly fromMm: readonly [x: number, y: number];
  readonly toMm: readonly [x: number, y: number];
  /** Approach of the axis measured across. */
  readonly approach: Approach;
  /** Between the segment and the nearest mark of another program that runs beside it, mm. */
  readonly besideMm?: number;
  /** Between its ends and the nearest mark of another program that crosses its line, mm. */
  readonly clearMm?: number;
}

export interface CutBoard {
  /** May be empty. */
  readonly segments: readonly BoardSegment[];
  readonly findings: readonly Finding[];
}

export interface CutStrokesOptions {
  /**
   * Kept off each side of a crossing, mm, default 1.5: half the width of a wide groove and its
   * ragged edge. Never more than a fifth of the gap between two crossings.
   */
  readonly crossingClearanceMm?: number;
  /** Kept off the ends of a stroke, mm, default 2: burnt lines start and end with a dot or fade. */
  readonly endClearanceMm?: number;
  /** Longer pieces are divided evenly, mm, default 60: straightness must not average out. */
  readonly longestMm?: number;
  /** Shorter pieces are dropped, mm, default 2: they hold too few pixels to be worth their noise. */
  readonly shortestMm?: number;
  /** Marks of another program on the same board, in the frame of this one. */
  readonly others?: readonly StraightMark[];
}

type Settings = Required<CutStrokesOptions>;

const DEFAULTS: Settings = {
  crossingClearanceMm: 1.5,
  endClearanceMm: 2,
  longestMm: 60,
  shortestMm: 2,
  others: [],
};

const MOST_OF_GAP = 0.2;

/** A stretch along a line that another stroke spoils, and what must be kept off its ends. */
interface Obstacle {
  readonly from: number;
  readonly to: number;
  readonly kind: 'crossing' | 'same place';
}

/** Stretch [from, to] along a line, mm. */
type Span = readonly [from: number, to: number];

/**
 * Cuts the strokes of the grid at all their crossings. Where a stretch was marked more than once
 * from one side, the first stroke keeps it; where it was marked from both sides, nobody can tell the
 * marks apart and it is dropped. Findings name such lines.
 */
export function cutStrokes(
  strokes: readonly Stroke[],
  grid: Grid,
  options: CutStrokesOptions = {},
): CutBoard {
  const settings = { ...DEFAULTS, ...options };
  const byId = new Map(strokes.map((stroke) => [stroke.id, stroke]));
  const segments: BoardSegment[] = [];
  const remarked = { once: new Set<string>(), dropped: new Set<string>() };

  const repeated = new Set([...grid.repeated.x, ...grid.repeated.y]);
  for (const [axis, ownLines, rungs] of [
    ['x', grid.linesAtX, grid.rungsAtX] as const,
    ['y', grid.linesAtY, grid.rungsAtY] as const,
  ]) {
    const lines = [...ownLines, ...rungs];
    for (const [lineIndex, line] of lines.entries()) {
      for (const strokeId of line.strokes) {
        const stroke = byId.get(strokeId)!;
        const onLine = alongLine(stroke, axis);
        const found = [
          ...strokes.flatMap((other) =>
            other === stroke ? [] : findObstacles(stroke, other, axis, settings),
          ),
          ...spoiltBy(settings.others, line.positionMm, axis, settings.crossingClearanceMm).map(
            ([from, to]): Obstacle => ({ from, to, kind: 'crossing' }),
          ),
        ];
        noteRemarked(stroke, strokes, line, axis, settings, remarked);
        for (const span of clearSpans(onLine, found, settings)) {
          segments.push({
            ...describeSegment(segments.length, stroke, axis, lineIndex, line, span),
            isRung: lineIndex >= ownLines.length,
            isRepeated: repeated.has(strokeId),
            ...marksBeside(settings.others, line.positionMm, span, axis),
          });
        }
      }
    }
  }
  return { segments, findings: describeRemarked(remarked) };
}

function across(axis: 'x' | 'y'): 0 | 1 {
  return axis === 'x' ? 0 : 1;
}

function alongLine(stroke: Stroke, axis: 'x' | 'y'): Span {
  const along = axis === 'x' ? 1 : 0;
  const [a, b] = [stroke.fromMm[along], stroke.toMm[along]];
  return a <= b ? [a, b] : [b, a];
}

/** What another stroke spoils of this one: the stretch over which it comes within the clearance. */
function findObstacles(
  stroke: Stroke,
  other: Stroke,
  axis: 'x' | 'y',
  settings: Settings,
): Obstacle[] {
  if (liesOnSameLine(stroke, other, axis)) {
    const [from, to] = alongLine(other, axis);
    const isMine =
      stroke.id < other.id && approachAcross(stroke, axis) === approachAcross(other, axis);
    // The first of equal marks stays, but for the places where the other one starts and ends.
    const spoiled: Span[] = isMine
      ? [
          [from, from],
          [to, to],
        ]
      : [[from, to]];
    return spoiled.map(([a, b]) => ({ from: a, to: b, kind: 'same place' }));
  }
  const near = clipToBand(other, stroke.fromMm[across(axis)], axis, settings.crossingClearanceMm);
  return near === undefined ? [] : [{ from: near[0], to: near[1], kind: 'crossing' }];
}

function liesOnSameLine(stroke: Stroke, other: Stroke, axis: 'x' | 'y'): boolean {
  const position = stroke.fromMm[across(axis)];
  return (
    Math.abs(other.fromMm[across(axis)] - position) <= SAME_LINE_MM &&
    Math.abs(other.toMm[across(axis)] - position) <= SAME_LINE_MM
  );
}

/** The part of a stroke within a distance of a line, seen along the line. */
function clipToBand(
  other: Stroke,
  positionMm: number,
  axis: 'x' | 'y',
  halfWidthMm: number,
): Span | undefined {
  const a = across(axis);
  const b = a === 0 ? 1 : 0;
  const [start, end] = [other.fromMm[a] - positionMm, other.toMm[a] - positionMm];
  const step = end - start;
  let [enter, leave] = [0, 1];
  if (Math.abs(step) <= SAME_LINE_MM) {
    if (Math.abs(start) > halfWidthMm) return undefined;
  } else {
    const crossings = [(-halfWidthMm - start) / step, (halfWidthMm - start) / step];
    enter = Math.max(0, Math.min(...crossings));
    leave = Math.min(1, Math.max(...crossings));
    if (enter > leave) return undefined;
  }
  const at = (fraction: number) => other.fromMm[b] + fraction * (other.toMm[b] - other.fromMm[b]);
  return [Math.min(at(enter), at(leave)), Math.max(at(enter), at(leave))];
}

/** The stretches of a stroke that keep clear of its ends and of all obstacles, none too long or short. */
function clearSpans(
  [start, end]: Span,
  obstacles: readonly Obstacle[],
  settings: Settings,
): Span[] {
  const reach = Math.max(settings.crossingClearanceMm, settings.endClearanceMm);
  const onStroke = obstacles
    .filter((obstacle) => obstacle.to >= start - reach && obstacle.from <= end + reach)
    .sort((a, b) => a.from - b.from);
  const least = start + settings.endClearanceMm;
  const most = end - settings.endClearanceMm;
  const spans: Span[] = [];

  let before: Obstacle | undefined;
  for (const next of [...onStroke, undefined]) {
    const gap = (next?.from ?? end) - (before?.to ?? start);
    const from = Math.max(least, (before?.to ?? start) + clearance(before, gap, settings));
    const to = Math.min(most, (next?.from ?? end) - clearance(next, gap, settings));
    if (to - from >= settings.shortestMm) spans.push(...divide([from, to], settings.longestMm));
    if (next !== undefined && (before === undefined || next.to > before.to)) before = next;
  }
  return spans;
}

function clearance(obstacle: Obstacle | undefined, gapMm: number, settings: Settings): number {
  if (obstacle === undefined) return 0;
  if (obstacle.kind === 'same place') return settings.endClearanceMm;
  return Math.min(settings.crossingClearanceMm, MOST_OF_GAP * Math.max(0, gapMm));
}

function divide([from, to]: Span, longestMm: number): Span[] {
  const pieces = Math.ceil((to - from) / longestMm - SAME_LINE_MM);
  const length = (to - from) / pieces;
  return Array.from({ length: pieces }, (_, i) => [from + i * length, from + (i + 1) * length]);
}

function describeSegment(
  id: number,
  stroke: Stroke,
  axis: 'x' | 'y',
  lineIndex: number,
  line: GridLine,
  [from, to]: Span,
): Omit<BoardSegment, 'isRung' | 'isRepeated'> {
  const point = (along: number): readonly [number, number] =>
    axis === 'x' ? [line.positionMm, along] : [along, line.positionMm];
  return {
    id,
    strokeId: stroke.id,
    axis,
    lineIndex,
    fromMm: point(from),
    toMm: point(to),
    approach: approachAcross(stroke, axis),
  };
}

/** Lines marked twice over more than an overlap of two ends. */
function noteRemarked(
  stroke: Stroke,
  strokes: readonly Stroke[],
  line: GridLine,
  axis: 'x' | 'y',
  settings: Settings,
  remarked: { once: Set<string>; dropped: Set<string> },
): void {
  const [start, end] = alongLine(stroke, axis);
  for (const other of strokes) {
    if (other.id <= stroke.id || !liesOnSameLine(stroke, other, axis)) continue;
    const [from, to] = alongLine(other, axis);
    if (Math.min(to, end) - Math.max(from, start) <= settings.endClearanceMm) continue;
    const isEqual = approachAcross(stroke, axis) === approachAcross(other, axis);
    // Nine digits: enough for any position, and free of the rounding of inches.
    const place = `${axis.toUpperCase()}${Number(line.positionMm.toPrecision(9))}`;
    remarked[isEqual ? 'once' : 'dropped'].add(place);
  }
}

function describeRemarked(remarked: { once: Set<string>; dropped: Set<string> }): Finding[] {
  const findings: Finding[] = [];
  if (remarked.dropped.size > 0) {
    findings.push({
      code: 'MARKS_ON_MARKS',
      message: `marked twice in one place from opposite sides, not used there: lines at ${list(remarked.dropped)}`,
      hint: 'mark the two halves of a line from opposite sides, not one over the other',
    });
  }
  if (remarked.once.size > 0) {
    findings.push({
      code: 'MARKS_REPEATED',
      message: `marked more than once from the same side, taken as one mark: lines at ${list(remarked.once)}`,
    });
  }
  return findings;
}

const MOST_LISTED = 8;

function list(places: ReadonlySet<string>): string {
  const listed = [...places].slice(0, MOST_LISTED).join(', ');
  return places.size > MOST_LISTED ? `${listed} and ${places.size - MOST_LISTED} more` : listed;
}
