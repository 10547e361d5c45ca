/** A plain bed with an origin mark: photos of its middle find their place by the board they share with others. */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { cameraFrame, pixelFromBoard, type Scene } from '../../samples/index.js';
import { writePhotos } from '../../samples/simulate.js';
import { imageFromCommanded } from '../../src/marks/index.js';
import { writeFlatProgram } from '../../src/plan/index.js';
import { cutStrokes, describeGrid, readProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { type SettledPhotos, settlePhotos } from '../../src/survey/examine-photos.js';
import { plan } from '../unit/plan/plan-choices.js';
import { drawPartialPhotos } from './partial-photos.js';

/**
 * Where the photos aim, share of the board both ways, with the quarter turn of the phone: the corner with the
 * origin mark, the middle, and beyond it a part that only the one before overlaps.
 */
const AIMS: readonly (readonly [number, number, number])[] = [
  [0.22, 0.28, 0],
  [0.55, 0.53, 180],
  [0.42, 0.42, 90],
];
/** Plywood: its grain runs as one ladder's rungs do, and would pass for rungs where none are. */
const SEED = 12;
/** Against the distance from which the whole board is seen. */
const NEARER = 0.4;
/** Lines are 50 mm apart: a wrong place is off by that at least; machine errors and the fit by far less. */
const OFF_MM = 2;

describe('photos of a plain bed of which one shows the origin mark', () => {
  let folder = '';
  let scene: Scene;
  let settled: SettledPhotos;

  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'gantrue-joined-'));
    const text = writeFlatProgram(plan({ travelMm: [1000, 700] }), 'bed');
    const { strokes } = unwrap(
      readProgram(text, { name: 'bed', marking: 'auto', blockDelete: false }),
    );
    const drawn = drawPartialPhotos(strokes, {
      seed: SEED,
      widthPx: 1200,
      heightPx: 900,
      aims: AIMS,
      nearer: NEARER,
    });
    scene = drawn.scene;
    const photoFiles = await writePhotos(scene, folder);
    const grid = unwrap(describeGrid(strokes));
    const board = { name: 'grid.ngc', strokes, grid, segments: cutStrokes(strokes, grid).segments };
    settled = unwrap(await settlePhotos({ photoFiles }, board, {}));
  }, 600_000);
  afterAll(() => rm(folder, { recursive: true, force: true }));

  it('are all placed, the farthest one by way of the middle one', () => {
    expect(settled.records.map(({ used, reason }) => reason ?? used)).toEqual([true, true, true]);
  });

  it('lie where they were taken', () => {
    expect(settled.usable.map(({ index }) => index)).toEqual([0, 1, 2]);
    for (const { index, examined } of settled.usable) {
      const { stand, lens } = scene.photos[index];
      const [x, y] = stand.aimMm.map((mm) => 50 * Math.round(mm / 50));
      const frame = cameraFrame(stand);
      const [u, v] = pixelFromBoard(lens, frame, x, y, 0) ?? [Number.NaN, Number.NaN];
      const [u1, v1] = pixelFromBoard(lens, frame, x + 1, y, 0) ?? [Number.NaN, Number.NaN];
      const [uFound, vFound] = imageFromCommanded(examined.marks.map, x, y);
      const offMm = Math.hypot(uFound - u, vFound - v) / Math.hypot(u1 - u, v1 - v);
      expect(offMm).toBeLessThan(OFF_MM + 2e-3 * Math.hypot(x, y));
    }
  });
});
