import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { viewOfPlacement } from '../../../src/marks/index.js';
import { cutStrokes, describeGrid } from '../../../src/program/index.js';
import { success, unwrap } from '../../../src/quantity/index.js';
import type { ExaminedPhoto, PhotoFate } from '../../../src/survey/examine-photo.js';
import { joinPhotos, type OpenPhoto } from '../../../src/survey/join-photos.js';
import { drawScene, evenly, gridStrokes, randomFrom, smoothNoise } from '../marks/draw-scene.js';

const strokes = gridStrokes(evenly(24, 50), evenly(16, 50));
const grid = unwrap(describeGrid(strokes));
const board = { strokes, grid, segments: cutStrokes(strokes, grid).segments };
const SIZE = { widthPx: 1000, heightPx: 750 };
/** Each overlaps the one before; the first and the last share no cell. */
const LOOKS = [
  { aimMm: [290, 330], rollDeg: 12 },
  { aimMm: [500, 380], rollDeg: 131 },
  { aimMm: [720, 420], rollDeg: 77 },
] as const;

describe('photos of which only the first is placed', () => {
  let folder = '';
  const files: string[] = [];
  const scenes = LOOKS.map((look, i) => {
    const fine = smoothNoise(randomFrom(5));
    const coarse = smoothNoise(randomFrom(6));
    const scene = drawScene({
      width: SIZE.widthPx,
      height: SIZE.heightPx,
      strokes,
      acrossMm: 430,
      board: (x, y) => 150 + 5 * fine(x / 4, y / 4) + 5 * coarse(x / 23, y / 23),
      seed: i + 1,
      ...look,
    });
    // Square-on: the truth is affine.
    const [u, v] = scene.truth(0, 0);
    const [ux, vx] = scene.truth(1, 0);
    const [uy, vy] = scene.truth(0, 1);
    const map = {
      homography: Float64Array.of(ux - u, uy - u, u, vx - v, vy - v, v, 0, 0, 1),
      centrePx: [(SIZE.widthPx - 1) / 2, (SIZE.heightPx - 1) / 2] as const,
      radiusPx: Math.hypot(SIZE.widthPx, SIZE.heightPx) / 2,
      k1: 0,
      k2: 0,
    };
    return { ...scene, map };
  });

  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'gantrue-join-'));
    for (const [i, { grey }] of scenes.entries()) {
      files.push(join(folder, `${i}.png`));
      const { width, height, data } = grey;
      await sharp(data, { raw: { width, height, channels: 1 } })
        .png()
        .toFile(files[i]);
    }
  });
  afterAll(() => rm(folder, { recursive: true, force: true }));

  const openPhoto = (index: number): OpenPhoto => {
    const view = viewOfPlacement(strokes, scenes[index].map, SIZE);
    if (view === undefined) throw new Error('no cell in view');
    return { index, path: files[index], view };
  };
  const tell = async (open: readonly number[]) => {
    const told: number[] = [];
    const joined = await joinPhotos(
      [{ path: files[0], map: scenes[0].map }],
      open.map(openPhoto),
      board,
      async ({ index, path }, crossings): Promise<PhotoFate> => {
        told.push(index);
        for (const { xMm, yMm, uPx, vPx } of crossings) {
          const [u, v] = scenes[index].truth(xMm, yMm);
          expect(Math.hypot(u - uPx, v - vPx)).toBeLessThan(1);
        }
        const marks = { map: scenes[index].map } as ExaminedPhoto['marks'];
        return { path, outcome: success({ marks, certain: true } as ExaminedPhoto) };
      },
    );
    return { told, joined: [...joined.keys()] };
  };

  it('are joined one by way of the other, in whatever order they were given', async () => {
    expect(await tell([2, 1])).toEqual({ told: [1, 2], joined: [1, 2] });
  });

  it('are left alone where the one between is missing', async () => {
    expect(await tell([2])).toEqual({ told: [], joined: [] });
  });
});
