/** Marks that tell which way round the grid lies, and where its middle is. */

import { isBeside, type Place, type PlanLayout, type PlannedMark } from './grid-plan.js';
import { tidy } from './round-to.js';

/**
 * In the cell at the origin a right triangle with its right angle toward the origin and the longer
 * leg along X; in the cell beside it an arrow toward +X; in the cell above it an arrow toward +Y with
 * a bar at its foot. No turn and no mirror maps it onto itself. On the second grid of a turned
 * pair legs and shafts are doubled.
 */
export function originMark(layout: PlanLayout): PlannedMark[] {
  const { low, middle, short, high, head, double } = layout.origin;
  const cell = (column: number, row: number) => (x: number, y: number) =>
    placeInCell(layout, column, row, x, y);
  const [here, beside, above] = [cell(0, 0), cell(1, 0), cell(0, 1)];
  const isSecond = isBeside(layout);
  return [
    stroke(here(low, low), here(high, low)),
    stroke(here(low, low), here(low, short)),
    stroke(here(high, low), here(low, short)),
    stroke(beside(low, middle), beside(high, middle)),
    stroke(beside(high - head, middle - head), beside(high, middle)),
    stroke(beside(high - head, middle + head), beside(high, middle)),
    stroke(above(middle, low), above(middle, high)),
    stroke(above(middle - head, high - head), above(middle, high)),
    stroke(above(middle + head, high - head), above(middle, high)),
    stroke(above(middle - head, low), above(middle + head, low)),
    ...(isSecond
      ? [
          stroke(here(low, low - double), here(high, low - double)),
          stroke(here(low - double, low), here(low - double, short)),
          stroke(beside(low, middle + double), beside(short, middle + double)),
          stroke(above(middle + double, low), above(middle + double, short)),
        ]
      : []),
  ];
}

/** A slanting cross about the middle of the grid: the board is turned about it. */
export function centreMark(layout: PlanLayout): PlannedMark[] {
  const [x, y] = gridCentre(layout);
  const arm = layout.origin.head;
  const mark = (from: Place, to: Place): PlannedMark => ({ ...stroke(from, to), kind: 'centre' });
  return [
    mark([tidy(x - arm), tidy(y - arm)], [tidy(x + arm), tidy(y + arm)]),
    mark([tidy(x - arm), tidy(y + arm)], [tidy(x + arm), tidy(y - arm)]),
  ];
}

/** In the program's units. */
export function gridCentre({ x, y, spacing }: PlanLayout): Place {
  return [
    tidy(x.first + ((x.lines - 1) * spacing) / 2),
    tidy(y.first + ((y.lines - 1) * spacing) / 2),
  ];
}

function placeInCell(layout: PlanLayout, column: number, row: number, x: number, y: number): Place {
  return [
    tidy(layout.x.first + column * layout.spacing + x),
    tidy(layout.y.first + row * layout.spacing + y),
  ];
}

function stroke(from: Place, to: Place): PlannedMark {
  return { kind: 'origin', from, to, sense: 1 };
}
