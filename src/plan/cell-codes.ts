/** Ticks in some cells that say which cell it is: a photo of a part of a large bed finds its place. */

import {
  CODE_BITS,
  CODE_CELL,
  CODE_EVERY,
  type PlanLayout,
  type PlannedMark,
} from './grid-plan.js';
import { tidy } from './round-to.js';

/**
 * In every third cell each way two rows of ticks, the lower one for the column of the cell, the
 * upper one for its row, both counted from 1 at the origin: binary, the tick nearest the line at the
 * left counts 1, the next 2, then 4, 8, 16, 32.
 */
export function cellCodes(layout: PlanLayout): PlannedMark[] {
  const marks: PlannedMark[] = [];
  const { x, y } = layout;
  for (let row = CODE_CELL; row < y.lines - 1; row += CODE_EVERY) {
    for (let column = CODE_CELL; column < x.lines - 1; column += CODE_EVERY) {
      if (row === layout.ladderCell || column === layout.ladderCell) continue;
      marks.push(...ticks(layout, column, row, 0, column + 1));
      marks.push(...ticks(layout, column, row, 1, row + 1));
    }
  }
  return marks;
}

/** @param which row of ticks: 0 the lower, 1 the upper one. */
function ticks(
  layout: PlanLayout,
  column: number,
  row: number,
  which: 0 | 1,
  value: number,
): PlannedMark[] {
  const { x, y, spacing, codeFirst, codeStep, codeLength, codeRows } = layout;
  const marks: PlannedMark[] = [];
  for (let bit = 0; bit < CODE_BITS; bit += 1) {
    if (Math.floor(value / 2 ** bit) % 2 === 0) continue;
    const at = tidy(x.first + column * spacing + codeFirst + bit * codeStep);
    const from = tidy(y.first + row * spacing + codeRows[which]);
    marks.push({ kind: 'code', from: [at, from], to: [at, tidy(from + codeLength)], sense: 1 });
  }
  return marks;
}
