/** A bed too large for one photo: each shows a part of it, and its cell codes say which. */
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Scene, sceneTruth } from '../../samples/index.js';
import { writePhotos } from '../../samples/simulate.js';
import { writeFlatProgram } from '../../src/plan/index.js';
import { readProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { survey } from '../../src/survey/index.js';
import { plan } from '../unit/plan/plan-choices.js';
import { drawPartialPhotos } from './partial-photos.js';

/** Where the photos aim, share of the grid both ways, with the quarter turn of the phone. */
const AIMS: readonly (readonly [number, number, number])[] = [
  [0.3, 0.32, 0],
  [0.7, 0.32, 90],
  [0.3, 0.68, 270],
  [0.7, 0.68, 180],
  [0.5, 0.5, 90],
  [0.5, 0.5, 0],
  [0.4, 0.6, 180],
  [0.6, 0.4, 270],
];
/** Against the distance from which the whole board is seen. */
const NEARER = 0.62;

describe('photos that each show a part of a coded bed', () => {
  let folder = '';
  let scene: Scene;
  let result: Awaited<ReturnType<typeof survey>>;

  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'gantrue-part-'));
    const bed = plan({ travelMm: [1250, 900], cellCodes: true });
    const text = writeFlatProgram(bed, 'bed');
    const file = join(folder, 'bed.ngc');
    await writeFile(file, text);
    const { strokes } = unwrap(
      readProgram(text, { name: 'bed', marking: 'auto', blockDelete: false }),
    );
    const drawn = drawPartialPhotos(strokes, {
      seed: 12,
      widthPx: 2400,
      heightPx: 1800,
      aims: AIMS,
      nearer: NEARER,
    });
    scene = drawn.scene;
    const photoFiles = await writePhotos(scene, folder);
    result = await survey(
      {
        photoFiles,
        markedBy: [{ kind: 'program', file }],
        marking: 'auto',
        blockDelete: false,
        known: [drawn.taped],
      },
      { now: () => new Date(0), toolVersion: '0' },
    );
  }, 300_000);
  afterAll(() => rm(folder, { recursive: true, force: true }));

  it('are all placed, none shows the whole grid', () => {
    const { photos } = unwrap(result).measurement;
    expect(photos.map(({ used, reason }) => reason ?? used)).toEqual(AIMS.map(() => true));
    for (const { corners = [], widthPx = 0, heightPx = 0 } of photos) {
      const outside = corners.filter(({ u, v }) => u < 0 || v < 0 || u > widthPx || v > heightPx);
      expect(outside.length).toBeGreaterThan(0);
    }
  });

  it('are joined: squareness and the ratio of the scales hold the truth within twice U', () => {
    const { measurement } = unwrap(result);
    const truth = sceneTruth(scene);
    const pairs = [
      [measurement.squareness, truth.squareness],
      [measurement.scale.ratio, truth.scale.ratio],
    ] as const;
    for (const [quantity, value] of pairs) {
      if (quantity.state === 'undetermined') throw new Error(quantity.reason);
      console.log(`${quantity.value} ± ${quantity.U}, truth ${value}`);
      expect(Math.abs(quantity.value - value)).toBeLessThan(2 * quantity.U);
    }
  });
});
