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

/** No clutter: what is looked at is the marks alone. */
const PLAIN = {
  kind: 'workshop',
  clutter: [],
  noiseGrey: 3,
  lines: [16, 12],
  fill: 0.85,
  blurPx: 0.6,
} satisfies BoardWish;

describe('marks at the limits', () => {
  const look = async (seed: number, wish: BoardWish) => {
    const scene = drawBoard(seed, { ...PLAIN, ...wish });
    const found = await findLattice(scene.grey, scene.strokes);
    return scoreBoard(scene, found.ok ? found.value : undefined);
  };
  const wide = { widthPx: 2400, heightPx: 1800, contrast: 30 };
  const faint = { widthPx: 960, heightPx: 720, markPx: 2.5, contrast: 3, grainGrey: 6 };

  it('bright ones an eighth of a gap wide are found, though their dark flanks are seen first', async () => {
    expect(await look(1028, { ...wide, markPx: 12 })).toBe('right');
  });

  it('of nearly half a gap are not taken for the gaps between them', async () => {
    expect(await look(1035, { ...wide, markPx: 30 })).not.toBe('wrong');
  });

  it('of half the grain they run along are found by all of them together', async () => {
    const scores = [await look(1028, faint), await look(1042, faint)];
    expect(scores).toContain('right');
    expect(scores).not.toContain('wrong');
  });

  it('fainter than the grain are refused where the program has a line more', async () => {
    const more = { ...faint, programMore: [1, 0] } as const;
    expect(await look(1042, more)).toBe('refused');
  });

  it('a further line is counted where only some crossing lines are seen to lead to it', async () => {
    const more = { ...faint, contrast: 4, programMore: [-1, 0] } as const;
    expect(await look(2011, more)).toBe('refused');
  });
});
