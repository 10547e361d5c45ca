/** The finder over random boards of every kind: how often it finds, and that it never misplaces. */
import { describe, expect, it } from 'vitest';
import { findLattice } from '../../src/marks/find-lattice.js';
import { type BoardWish, drawBoard } from './boards/random-board.js';
import { type Score, scoreBoard } from './boards/score-board.js';

const SIZE = { widthPx: 800, heightPx: 600 } as const;
const MORE = [
  [1, 0],
  [0, -1],
] as const;

async function sweep(
  scenes: number,
  wish: (scene: number) => BoardWish,
): Promise<Record<Score, number>> {
  const count = { right: 0, refused: 0, wrong: 0 };
  for (let k = 0; k < scenes; k++) {
    const scene = drawBoard(500 + 13 * k, { ...SIZE, ...wish(k) });
    const found = await findLattice(scene.grey, scene.strokes);
    count[scoreBoard(scene, found.ok ? found.value : undefined)]++;
  }
  return count;
}

describe('random boards', () => {
  // Two refusals of five are let pass: single scenes tip over with any change to the search.
  const kinds = [
    ['workshop', 3],
    ['stones', 3],
    ['puzzle', 3],
    ['mat', 3],
  ] as const;
  for (const [kind, least] of kinds) {
    it(`of kind ${kind}: at least ${least} of 5 are found, none is misplaced`, async () => {
      const { right, wrong } = await sweep(5, () => ({ kind }));
      expect(wrong).toBe(0);
      expect(right).toBeGreaterThanOrEqual(least);
    });

    it(`of kind ${kind} are refused where the program has a line more or less`, async () => {
      const { wrong } = await sweep(2, (k) => ({ kind, programMore: MORE[k] }));
      expect(wrong).toBe(0);
    });
  }
});
