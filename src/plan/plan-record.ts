/** A plan and its program → the record of what is marked, taken from the program itself. */

import { createHash } from 'node:crypto';
import { PLAN_SCHEMA_ID, type PlanRecord } from '../../shared/schemas/plan.js';
import type { Stroke } from '../../shared/stroke.js';
import { readProgram } from '../program/index.js';
import type { GridPlan, Place, PlannedMark } from './grid-plan.js';
import { tidy } from './round-to.js';

export interface WrittenProgram {
  readonly file: string;
  readonly text: string;
  readonly form: PlanRecord['program']['form'];
}

/** Half of the last digit of a program in mm, the coarser one. */
const SAME_PLACE_MM = 5e-4;

/**
 * The record. Strokes are those that a reader finds in the text, not those that were meant: where the
 * two differ, the tool is at fault and nothing is written.
 *
 * @throws where the text does not mark what the plan says.
 */
export function planRecord(
  plan: GridPlan,
  program: WrittenProgram,
  files: readonly string[],
  toolVersion: string,
): PlanRecord {
  const { layout, choices } = plan;
  const mm = (value: number) => tidy(value * layout.mmPerUnit);
  const read = readProgram(program.text, {
    name: program.file,
    marking: choices.marking,
    blockDelete: true,
  });
  if (!read.ok)
    throw new Error('the program that was laid out cannot be read', { cause: read.failure });
  const { strokes } = read.value;
  if (strokes.length !== plan.marks.length) {
    throw new Error(`${plan.marks.length} marks were laid out, the program has ${strokes.length}`);
  }
  const positions = ({ first, lines }: { first: number; lines: number }) =>
    Array.from({ length: lines }, (_, line) => mm(first + line * layout.spacing));
  return {
    schema: PLAN_SCHEMA_ID,
    tool: { name: 'gantrue', version: toolVersion },
    placement: layout.placement,
    files: [...files],
    program: {
      file: program.file,
      sha256: createHash('sha256').update(program.text, 'utf8').digest('hex'),
      units: choices.units,
      form: program.form,
      marking: choices.marking,
    },
    travel: {
      x: [mm(layout.x.low), mm(layout.x.high)],
      y: [mm(layout.y.low), mm(layout.y.high)],
    },
    spacing: mm(layout.spacing),
    linesAtX: positions(layout.x),
    linesAtY: positions(layout.y),
    ladder: { x: mm(layout.x.ladderPitch), y: mm(layout.y.ladderPitch) },
    strokes: strokes.map((stroke, i) => recordStroke(stroke, plan.marks[i]!, mm)),
    holes: plan.holes.map(({ centre, rings }) => ({
      centre: [mm(centre[0]), mm(centre[1])] as [number, number],
      steps: rings.map(({ radius, toDepth }) => ({
        pathDiameter: mm(2 * radius),
        depth: mm(toDepth),
      })),
    })),
  };
}

function recordStroke(
  stroke: Stroke,
  mark: PlannedMark,
  mm: (value: number) => number,
): PlanRecord['strokes'][number] {
  for (const [read, meant] of [
    [stroke.fromMm, mark.from],
    [stroke.toMm, mark.to],
  ] as const) {
    if (!isSamePlace(read, [mm(meant[0]), mm(meant[1])])) {
      throw new Error(`line ${stroke.sourceLine} marks ${read}, laid out was ${meant}`);
    }
  }
  return {
    kind: mark.kind,
    from: [tidy(stroke.fromMm[0]), tidy(stroke.fromMm[1])],
    to: [tidy(stroke.toMm[0]), tidy(stroke.toMm[1])],
    approachX: stroke.approachX,
    approachY: stroke.approachY,
    line: stroke.sourceLine,
  };
}

function isSamePlace(a: Place, b: Place): boolean {
  return Math.hypot(a[0] - b[0], a[1] - b[1]) <= SAME_PLACE_MM;
}

/** The strokes of a record, as the reader of a program gives them. */
export function strokesOfRecord(record: PlanRecord): Stroke[] {
  return record.strokes.map(({ from, to, approachX, approachY, line }, id) => ({
    id,
    fromMm: from,
    toMm: to,
    approachX,
    approachY,
    sourceLine: line,
  }));
}
