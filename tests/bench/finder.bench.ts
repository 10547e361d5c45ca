/** How often the grid is found, refused or placed wrongly, against one property of a scene at a time. */

import { bench, describe } from 'vitest';
import { findLattice } from '../../src/marks/find-lattice.js';
import { type BoardWish, CLUTTERS, drawBoard } from '../simulation/boards/random-board.js';
import { scoreBoard } from '../simulation/boards/score-board.js';

/** Scenes per cell: `SCENES=20` tells more and takes minutes per table. */
const SCENES = Number(process.env.SCENES ?? 6);
/** Pictures of more pixels than this are drawn less often; painting one takes a minute per 40 megapixels. */
const LARGE_PX = 4e6;
const PLAIN = {
  kind: 'workshop',
  widthPx: 960,
  heightPx: 720,
  clutter: [],
  noiseGrey: 3,
  lines: [16, 12],
  fill: 0.85,
  blurPx: 0.6,
  markPx: 2.5,
  contrast: 30,
} satisfies BoardWish;
const KINDS = ['workshop', 'stones', 'puzzle', 'mat'] as const;
const SIZES = [
  [640, 480],
  [1160, 870],
  [4000, 3000],
  [8000, 6000],
  [11_600, 8700],
] as const;
const MORE = [
  [1, 0],
  [-1, 0],
  [0, 1],
  [0, -1],
  [1, 1],
  [-1, -1],
] as const;

type Cell = BoardWish | ((scene: number) => BoardWish);

const over = <T extends string | number>(values: readonly T[], wish: (value: T) => Cell) =>
  Object.fromEntries(values.map((value) => [String(value), wish(value)])) as Record<string, Cell>;

const TABLES: Record<string, Record<string, Cell>> = {
  'kind of board': over(KINDS, (kind) => ({ kind })),
  'kind of board, program of other line counts': over(KINDS, (kind) => (scene) => ({
    kind,
    programMore: MORE[scene % MORE.length],
  })),
  'contrast, grey values over noise of 3 and grain': over([30, 15, 8, 5, 3], (contrast) => ({
    ...PLAIN,
    contrast,
    grainGrey: 6,
  })),
  clutter: over(CLUTTERS, (clutter) => ({ ...PLAIN, clutter: [clutter] })),
  'tilt, degrees': over([0, 10, 20, 30, 40, 45, 50], (tiltDeg) => ({ ...PLAIN, tiltDeg })),
  'share covered': over([0.1, 0.2, 0.3, 0.4, 0.5, 0.6], (coverage) => ({ ...PLAIN, coverage })),
  'share of nodes under stones': over([0.1, 0.3, 0.5, 0.7], (coverage) => ({
    kind: 'stones' as const,
    coverage,
  })),
  'blur, px': over([0.5, 1, 2, 3, 4], (blurPx) => ({ ...PLAIN, blurPx })),
  'lines each way': over([5, 8, 12, 20, 40, 60, 80], (n) => ({
    ...PLAIN,
    lines: [n, n] as const,
    fill: 0.95,
    tiltDeg: 15,
    ...(n >= 40 ? { widthPx: 1600, heightPx: 1600, markPx: 1.5 } : {}),
  })),
  'mark width, px': over([1, 2, 4, 8, 12, 20, 30], (markPx) => ({
    ...PLAIN,
    markPx,
    ...(markPx > 4 ? { widthPx: 2400, heightPx: 1800 } : {}),
  })),
  'distortion at the corner': over([-0.05, -0.025, 0.025, 0.05], (distortion) => ({
    ...PLAIN,
    distortion,
    fill: 0.95,
  })),
  'families of other lines': over([0, 1, 2, 3], (cutFamilies) => ({ ...PLAIN, cutFamilies })),
  'finer lines between those of a mat': over([0, 1, 2, 3, 4], (finer) => ({
    kind: 'mat' as const,
    finer,
  })),
  'picture, px': Object.fromEntries(
    SIZES.map(([widthPx, heightPx]) => [
      `${widthPx} × ${heightPx}`,
      { kind: 'workshop', widthPx, heightPx } as const,
    ]),
  ),
  'a strip of 96 megapixels': {
    '24000 × 4000': {
      ...PLAIN,
      lines: [40, 8],
      ratio: 1,
      rollDeg: 0,
      tiltDeg: 5,
      widthPx: 24_000,
      heightPx: 4000,
      markPx: 14,
    },
  },
};

/** A part of a table's title: `SWEEP=contrast npm run bench` runs those tables alone. */
const wanted = process.env.SWEEP;

describe('finding the grid', async () => {
  for (const [title, cells] of Object.entries(TABLES)) {
    if (wanted !== undefined && !title.includes(wanted)) continue;
    const table: Record<string, Record<string, number>> = {};
    for (const [name, cell] of Object.entries(cells)) {
      const count = { right: 0, refused: 0, wrong: 0 };
      let ms = 0;
      let scenes = 0;
      for (let k = 0; k < SCENES; k++) {
        const wish = typeof cell === 'function' ? cell(k) : cell;
        const pixels = (wish.widthPx ?? 0) * (wish.heightPx ?? 0);
        if (pixels > LARGE_PX && k * pixels >= LARGE_PX * SCENES) break;
        scenes++;
        const scene = drawBoard(1000 + 7 * k, wish);
        const start = performance.now();
        const found = await findLattice(scene.grey, scene.strokes);
        ms += performance.now() - start;
        count[scoreBoard(scene, found.ok ? found.value : undefined)]++;
      }
      table[name] = { ...count, 'ms each': Math.round(ms / scenes) };
      // Told at once: a table of large pictures takes a while.
      console.log(`${title}: ${name}`, table[name]);
    }
    console.table(table);
  }

  const large = drawBoard(1, { ...PLAIN, widthPx: 4000, heightPx: 3000, markPx: 6 });
  bench(
    'a photo of 12 megapixels',
    async () => {
      await findLattice(large.grey, large.strokes);
    },
    { iterations: 3, time: 0, warmupIterations: 0, warmupTime: 0 },
  );
});
