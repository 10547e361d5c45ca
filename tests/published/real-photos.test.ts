/**
 * Photographs of Go boards and of a printed number puzzle that were published for other purposes, with
 * the corners of their lattices placed by eye. They are kept beside the checkout, not in it.
 */
import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { beforeAll, describe, expect, it } from 'vitest';
import { findLattice } from '../../src/marks/find-lattice.js';
import { imageFromCommanded } from '../../src/marks/image-map.js';
import type { GreyImage } from '../../src/quantity/index.js';
import { evenly, gridStrokes } from '../unit/marks/draw-scene.js';

interface PhotoEntry {
  readonly file: string;
  readonly kind: string;
  readonly lines_across: number;
  readonly lines_down: number;
  readonly corners: [number, number][];
  readonly corner_tol_px: number;
}

interface Result {
  readonly file: string;
  readonly found: boolean;
  readonly certain: boolean;
  readonly cornerOffPx: number;
  readonly allowedPx: number;
}

const folder = fileURLToPath(new URL('../../../shared/data/photos/', import.meta.url));
const present = existsSync(`${folder}index.json`);
if (!present) console.log(`real photos skipped: no ${folder}index.json`);

describe.skipIf(!present)('published photographs of lattices', () => {
  let photos: PhotoEntry[] = [];
  const results: Result[] = [];

  beforeAll(async () => {
    photos = JSON.parse(readFileSync(`${folder}index.json`, 'utf8')).images;
    for (const photo of photos) results.push(await search(photo, 0));
    console.table(results);
  });

  it('at least four of five are found and counted right, to a quarter of a gap', () => {
    const right = results.filter((r) => r.found && r.cornerOffPx <= r.allowedPx);
    expect(right.length / photos.length).toBeGreaterThanOrEqual(0.8);
  });

  it('none is placed wrongly with certainty', () => {
    const wrong = results.filter((r) => r.found && r.cornerOffPx > r.allowedPx);
    expect(wrong).toEqual([]);
    // Every lattice here reads the same upside down.
    expect(results.filter((r) => r.found && r.certain)).toEqual([]);
  });

  it('a program with a line too many or too few finds nothing', async () => {
    for (const [i, photo] of photos.entries()) {
      expect((await search(photo, i % 2 === 0 ? 1 : -1)).found).toBe(false);
    }
  });
});

async function search(photo: PhotoEntry, more: number): Promise<Result> {
  const { data, info } = await sharp(`${folder}${photo.file}`)
    .greyscale()
    .raw()
    .toBuffer({ resolveWithObject: true });
  const grey: GreyImage = { width: info.width, height: info.height, data: new Uint8Array(data) };
  // Common practice, no source: a Go board's gaps are about 22 mm by 23.7 mm.
  const [dx, dy] = photo.kind === 'go' ? [22, 23.7] : [20, 20];
  const xs = evenly(photo.lines_across + more, dx);
  const ys = evenly(photo.lines_down, dy);
  const outcome = await findLattice(grey, gridStrokes(xs, ys));
  if (!outcome.ok) {
    const none = Number.POSITIVE_INFINITY;
    return { file: photo.file, found: false, certain: false, cornerOffPx: none, allowedPx: 0 };
  }
  const { map, certain, pitchPx } = outcome.value;
  const [w, h] = [xs[xs.length - 1], ys[ys.length - 1]];
  const found = [
    [0, 0],
    [0, h],
    [w, h],
    [w, 0],
  ].map(([x, y]) => imageFromCommanded(map, x, y));
  // Unmirrored turns only: both lists run clockwise in the picture.
  let cornerOffPx = Number.POSITIVE_INFINITY;
  for (let turn = 0; turn < 4; turn++) {
    const off = found.map(([u, v], i) => {
      const [uTrue, vTrue] = photo.corners[(i + turn) % 4];
      return Math.hypot(u - uTrue, v - vTrue);
    });
    cornerOffPx = Math.min(cornerOffPx, Math.max(...off));
  }
  return {
    file: photo.file,
    found: true,
    certain,
    cornerOffPx,
    allowedPx: Math.max(photo.corner_tol_px, 0.25 * pitchPx),
  };
}
