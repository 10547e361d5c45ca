/** Under which turns the marked pattern looks the same: where a photo cannot tell its origin. */

import type { Stroke } from '../../shared/stroke.js';
import type { Grid } from './describe-grid.js';

/** Counterclockwise, degrees. */
export type QuarterTurn = 90 | 180 | 270;

/** Pitches that differ by less look square in a photo of an uncalibrated camera. */
const SAME_PITCH = 0.005;

/** How far off a mark may lie and still look the same, in pitches: less is measured, not recognised. */
const SAME_PLACE = 0.05;

/** Distance of the points at which marks are compared, in pitches: shorter marks are no landmarks. */
const STEP = 0.1;

type Point = readonly [number, number];
type Piece = readonly [from: Point, to: Point];

/**
 * The turns about the grid's centre under which all marks, whatever their order and direction, map
 * onto marks. None for a pattern with a landmark; mirror images cannot occur in an overhead photo.
 */
export function lookAlikeRotations(grid: Grid, strokes: readonly Stroke[]): QuarterTurn[] {
  const pieces = inPitches(grid, strokes);
  const points = pieces.flatMap(samplePiece);
  const [pitchX, pitchY] = [medianPitch(grid.linesAtX), medianPitch(grid.linesAtY)];
  const isSquare = Math.abs(pitchX / pitchY - 1) <= SAME_PITCH;
  const candidates: QuarterTurn[] = isSquare ? [90, 180, 270] : [180];
  return candidates.filter((turn) =>
    points.every((point) => liesOnPiece(rotate(point, turn), pieces)),
  );
}

/** All strokes about the grid's centre in units of the pitch, landmarks first: they decide soonest. */
function inPitches(grid: Grid, strokes: readonly Stroke[]): Piece[] {
  const pitch = [medianPitch(grid.linesAtX), medianPitch(grid.linesAtY)] as const;
  const centre = [middle(grid.linesAtX), middle(grid.linesAtY)] as const;
  const scaled = ([x, y]: Point): Point => [(x - centre[0]) / pitch[0], (y - centre[1]) / pitch[1]];
  const others = new Set(grid.otherStrokes);
  return [...strokes]
    .sort((a, b) => Number(others.has(b.id)) - Number(others.has(a.id)))
    .map((stroke) => [scaled(stroke.fromMm), scaled(stroke.toMm)]);
}

function middle(lines: Grid['linesAtX']): number {
  return (lines[0]!.positionMm + lines.at(-1)!.positionMm) / 2;
}

function medianPitch(lines: Grid['linesAtX']): number {
  const steps = lines.slice(1).map((line, index) => line.positionMm - lines[index]!.positionMm);
  steps.sort((a, b) => a - b);
  return steps[Math.floor(steps.length / 2)]!;
}

function samplePiece([from, to]: Piece): Point[] {
  const steps = Math.max(1, Math.ceil(Math.hypot(to[0] - from[0], to[1] - from[1]) / STEP));
  return Array.from({ length: steps + 1 }, (_, i) => [
    from[0] + (i / steps) * (to[0] - from[0]),
    from[1] + (i / steps) * (to[1] - from[1]),
  ]);
}

function rotate([x, y]: Point, turn: QuarterTurn): Point {
  if (turn === 180) return [-x, -y];
  return turn === 90 ? [-y, x] : [y, -x];
}

function liesOnPiece(point: Point, pieces: readonly Piece[]): boolean {
  return pieces.some((piece) => distanceTo(point, piece) <= SAME_PLACE);
}

function distanceTo([x, y]: Point, [from, to]: Piece): number {
  const along = [to[0] - from[0], to[1] - from[1]] as const;
  const square = along[0] ** 2 + along[1] ** 2;
  const projected = ((x - from[0]) * along[0] + (y - from[1]) * along[1]) / square;
  const fraction = square === 0 ? 0 : Math.min(1, Math.max(0, projected));
  return Math.hypot(x - from[0] - fraction * along[0], y - from[1] - fraction * along[1]);
}
