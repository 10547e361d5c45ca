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
const board = { name: 'grid.ngc', strokes, grid, segments: cutStrokes(strokes, grid).segments };
const SIZE = { widthPx: 680, heightPx: 510 };
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
  /** What the photo's own marks say when it is read again, with the truth as its map. */
  const fateOf = (index: number, certain: boolean): PhotoFate => {
    const marks = { map: scenes[index].map } as ExaminedPhoto['marks'];
    return { path: files[index], outcome: success({ marks, certain } as ExaminedPhoto) };
  };
  const laid = async (placed: readonly number[], open: readonly number[], certain = true) => {
    const told: number[] = [];
    const joining = await joinPhotos(
      placed.map((index) => ({ path: files[index], map: scenes[index].map })),
      open.map(openPhoto),
      board,
      async ({ index }, crossings) => {
        told.push(index);
        for (const { xMm, yMm, uPx, vPx } of crossings) {
          const [u, v] = scenes[index].truth(xMm, yMm);
          expect(Math.hypot(u - uPx, v - vPx)).toBeLessThan(1);
        }
        return fateOf(index, certain);
      },
    );
    return { told, joined: [...joining.placed.keys()], misfits: [...joining.misfits] };
  };

  it('are joined one by way of the other, in whatever order they were given', async () => {
    expect(await laid([0], [2, 1])).toEqual({ told: [1, 2], joined: [1, 2], misfits: [] });
  });

  it('are left alone where the one between is missing', async () => {
    expect(await laid([0], [2])).toEqual({ told: [], joined: [], misfits: [] });
  });

  it('are not joined where their own marks do not fit there', async () => {
    expect(await laid([0], [1], false)).toEqual({ told: [1], joined: [], misfits: [1] });
  });

  it('are not joined where two placed ones contradict each other by the board they share', async () => {
    const { homography } = scenes[1].map;
    // Three lines further along X than it lies.
    const wrong = Float64Array.from(homography);
    for (const row of [0, 3, 6]) wrong[row + 2] += 150 * homography[row];
    const joining = await joinPhotos(
      [
        { path: files[0], map: scenes[0].map },
        { path: files[1], map: { ...scenes[1].map, homography: wrong } },
      ],
      [openPhoto(2)],
      board,
      async ({ index }) => fateOf(index, true),
    );
    expect(joining.contradiction).toBe(files[1]);
    expect(joining.placed.size).toBe(0);
  });
});
