/** Numbers points, one number for those that lie together, without looking at all of them. */

import { SAME_CIRCLE_MM } from './find-circles.js';

/** A few of the distances that matter: most points then need one cell only, and none holds many. */
const CELL_MM = 8 * SAME_CIRCLE_MM;

/** Points within {@link SAME_CIRCLE_MM} of the first one of a number are the same. */
export class CentreIndex {
  readonly #x: number[] = [];
  readonly #y: number[] = [];
  /** The last point of each cell, and for each point the one before it in its cell. */
  readonly #last = new Map<number, number>();
  readonly #before: (number | undefined)[] = [];

  /** @returns the number of a point, from 0, in order of first appearance. */
  settle(x: number, y: number): number {
    return this.#find(x, y) ?? this.#add(x, y);
  }

  #find(x: number, y: number): number | undefined {
    const fromColumn = columnOf(x - SAME_CIRCLE_MM);
    const toColumn = columnOf(x + SAME_CIRCLE_MM);
    const fromRow = columnOf(y - SAME_CIRCLE_MM);
    const toRow = columnOf(y + SAME_CIRCLE_MM);
    for (let column = fromColumn; column <= toColumn; column += 1) {
      for (let row = fromRow; row <= toRow; row += 1) {
        const found = this.#findInCell(keyOf(column, row), x, y);
        if (found !== undefined) return found;
      }
    }
    return undefined;
  }

  #findInCell(key: number, x: number, y: number): number | undefined {
    let id = this.#last.get(key);
    while (id !== undefined) {
      if (Math.hypot(this.#x[id]! - x, this.#y[id]! - y) <= SAME_CIRCLE_MM) return id;
      id = this.#before[id];
    }
    return undefined;
  }

  #add(x: number, y: number): number {
    const id = this.#x.length;
    const key = keyOf(columnOf(x), columnOf(y));
    this.#x.push(x);
    this.#y.push(y);
    this.#before.push(this.#last.get(key));
    this.#last.set(key, id);
    return id;
  }
}

function columnOf(mm: number): number {
  return Math.floor(mm / CELL_MM);
}

/** Two cells of one key are told apart by the distance of their points. Odd factors spread the keys. */
function keyOf(column: number, row: number): number {
  return (Math.imul(column, 0x9e3779b1) ^ Math.imul(row, 0x85ebca6b)) >>> 0;
}
