/** A board that ends one gap beside the outermost line: its edge is a dark line at a line's place. */

import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { gridProgram, projectCommanded, randomScene, renderPhoto } from '../../samples/index.js';
import { readPhoto } from '../../src/imaging/index.js';
import { imageFromCommanded } from '../../src/marks/image-map.js';
import { findLattice } from '../../src/marks/index.js';
import { unwrap } from '../../src/quantity/index.js';

/** Hidden lines are predicted to less; a grid one line off lies 27 px away. */
const TOLERANCE_PX = 2;

const evenly = (count: number, pitch: number) => Array.from({ length: count }, (_, i) => i * pitch);

describe('strokes that end some mm nearer to the board’s edge', () => {
  for (const [seed, nx, ny, pitch] of [
    [7, 25, 17, 40],
    [8, 25, 17, 40],
  ] as const) {
    it(`lead to no further line: ${nx} × ${ny} lines, seed ${seed}`, async () => {
      const { strokes } = gridProgram({ xMm: evenly(nx, pitch), yMm: evenly(ny, pitch) });
      const { scene } = randomScene(seed, strokes, { widthPx: 1200, heightPx: 900, rolls: [0] });
      const folder = await mkdtemp(join(tmpdir(), 'edges-'));
      const path = join(folder, 'photo.jpg');
      await writeFile(path, (await renderPhoto(scene, 0)).jpeg);
      const { grey } = unwrap(await readPhoto(path));
      await rm(folder, { recursive: true });
      const { map } = unwrap(await findLattice(grey, strokes));
      for (const x of [0, (nx - 1) * pitch]) {
        for (const y of [0, (ny - 1) * pitch]) {
          const [u, v] = projectCommanded(scene, 0, x, y, 1, 1);
          const [uFound, vFound] = imageFromCommanded(map, x, y);
          expect(Math.hypot(uFound - u, vFound - v)).toBeLessThan(TOLERANCE_PX);
        }
      }
    });
  }
});
