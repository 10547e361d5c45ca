/** The lines of the grid, the outline, the ladders, and the first lines marked again. */

import {
  AGAIN_CELL,
  AGAIN_EVERY,
  type AxisLayout,
  type Place,
  type PlanLayout,
  type PlannedMark,
} from './grid-plan.js';
import { ladderPlaces } from './ladder-pitch.js';
import { tidy } from './round-to.js';

/** Lines at constant X (axis 0) or constant Y (axis 1). */
type AcrossAxis = 0 | 1;

/** Stretch along a line, and the sense in which the line is approached there. */
interface Half {
  readonly from: number;
  readonly to: number;
  readonly sense: 1 | -1;
}

/**
 * All lines across one axis, even ones going out, odd ones coming back: what creeps while the grid
 * is marked then does not pass for a scale error.
 *
 * Each line is marked in two halves, in one direction and at one speed, approached from opposite
 * sides. Which half is approached from which side alternates from line to line: on a grid where it
 * does not, lost motion and straightness cannot be told apart.
 */
export function lineMarks(layout: PlanLayout, axis: AcrossAxis): PlannedMark[] {
  return outAndBack(across(layout, axis).lines).flatMap((line) => {
    const halves = halvesOf(layout, axis, line);
    const pieces =
      line === 0 ? halves.flatMap((half) => piecesBetween(half, gaps(layout, axis))) : halves;
    return pieces.map((piece) => markAlong(layout, axis, line, piece, 'line'));
  });
}

/** The stretches of the first line that were left out, marked at the very end. */
export function againMarks(layout: PlanLayout, axis: AcrossAxis): PlannedMark[] {
  return halvesOf(layout, axis, 0).flatMap((half) =>
    gaps(layout, axis)
      .filter((gap) => gap.from >= half.from && gap.to <= half.to)
      .map((gap) => markAlong(layout, axis, 0, { ...gap, sense: half.sense }, 'again')),
  );
}

/** A rectangle just inside the ends of the travel: nothing beyond it can be reached. */
export function outlineMarks(layout: PlanLayout): PlannedMark[] {
  const { x, y, outlineInset: inset } = layout;
  const [left, right] = [tidy(x.low + inset), tidy(x.high - inset)];
  const [bottom, top] = [tidy(y.low + inset), tidy(y.high - inset)];
  const side = (from: Place, to: Place, sense: 1 | -1): PlannedMark => ({
    kind: 'outline',
    from,
    to,
    sense,
  });
  // Approached from inside: there is no room beyond.
  return [
    side([left, bottom], [right, bottom], -1),
    side([right, bottom], [right, top], 1),
    side([left, top], [right, top], 1),
    side([left, bottom], [left, top], -1),
  ];
}

/** Short strokes across an axis at places that are no multiples of the spacing. */
export function rungMarks(layout: PlanLayout, axis: AcrossAxis): PlannedMark[] {
  const own = across(layout, axis);
  const other = across(layout, axis === 0 ? 1 : 0);
  const cell = other.first + layout.ladderCell * layout.spacing;
  const stretch: Half = {
    from: tidy(cell + layout.rungEnd),
    to: tidy(cell + layout.spacing - layout.rungEnd),
    sense: 1,
  };
  const room = {
    spacing: layout.spacing,
    length: (own.lines - 1) * layout.spacing,
    takenCell: layout.ladderCell,
    clearance: layout.ladderClearance,
  };
  return ladderPlaces(room, own.ladderPitch).map((place) =>
    markAt(axis, tidy(own.first + place), stretch, 'rung'),
  );
}

function across(layout: PlanLayout, axis: AcrossAxis): AxisLayout {
  return axis === 0 ? layout.x : layout.y;
}

function outAndBack(lines: number): number[] {
  const all = Array.from({ length: lines }, (_, line) => line);
  return [
    ...all.filter((line) => line % 2 === 0),
    ...all.filter((line) => line % 2 === 1).reverse(),
  ];
}

/** The cell in which the halves of a line meet: the middle one or, on every second pair of lines, the one before. */
function meetingCell(crossing: AxisLayout, line: number): number {
  return Math.floor((crossing.lines - 1) / 2) - (Math.floor(line / 2) % 2);
}

function halvesOf(layout: PlanLayout, axis: AcrossAxis, line: number): Half[] {
  const crossing = across(layout, axis === 0 ? 1 : 0);
  const { spacing, overhang } = layout;
  const from = tidy(crossing.first - overhang);
  const meeting = tidy(crossing.first + (meetingCell(crossing, line) + 0.5) * spacing);
  const to = tidy(crossing.first + (crossing.lines - 1) * spacing + overhang);
  const sense = line % 2 === 0 ? 1 : -1;
  return [
    { from, to: meeting, sense },
    { from: meeting, to, sense: sense === 1 ? -1 : 1 },
  ];
}

function gaps(layout: PlanLayout, axis: AcrossAxis): { from: number; to: number }[] {
  const crossing = across(layout, axis === 0 ? 1 : 0);
  const found: { from: number; to: number }[] = [];
  for (let cell = AGAIN_CELL; cell < crossing.lines - 1; cell += AGAIN_EVERY) {
    if (cell === meetingCell(crossing, 0)) continue;
    const from = tidy(crossing.first + cell * layout.spacing);
    found.push({ from, to: tidy(from + layout.spacing) });
  }
  return found;
}

function piecesBetween(half: Half, gapList: readonly { from: number; to: number }[]): Half[] {
  const pieces: Half[] = [];
  let from = half.from;
  for (const gap of gapList) {
    if (gap.from < half.from || gap.to > half.to) continue;
    pieces.push({ ...half, from, to: gap.from });
    from = gap.to;
  }
  return [...pieces, { ...half, from }];
}

function markAlong(
  layout: PlanLayout,
  axis: AcrossAxis,
  line: number,
  piece: Half,
  kind: PlannedMark['kind'],
): PlannedMark {
  const { first } = across(layout, axis);
  return markAt(axis, tidy(first + line * layout.spacing), piece, kind);
}

function markAt(
  axis: AcrossAxis,
  position: number,
  { from, to, sense }: Half,
  kind: PlannedMark['kind'],
): PlannedMark {
  const place = (along: number): Place => (axis === 0 ? [position, along] : [along, position]);
  return { kind, from: place(from), to: place(to), sense };
}
