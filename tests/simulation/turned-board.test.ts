/** A board marked twice, turned about a quarter turn between: one photo of any camera. */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Measurement } from '../../shared/schemas/measurement.js';
import type { Survey } from '../../src/survey/index.js';
import {
  photographPair,
  planPair,
  surveyPair,
  type TurnedPhoto,
  writePair,
} from './turned-pair.js';

const PAIR = planPair([550, 500]);

const CASES = [
  {
    what: 'turned to the left and 1.5° too far, tilted by 9°, 8 MP',
    turn: { quarters: 1, offDeg: 1.5, offMm: [2, -3] },
    seed: 31,
    options: { widthPx: 3264, heightPx: 2448, tiltDeg: [9, 9], rolls: [130], markKind: 'burnt' },
  },
  {
    what: 'turned to the right, just a quarter turn, tilted by 15°, 5 MP, a raw lens',
    turn: { quarters: -1, offDeg: 0.1, offMm: [0.4, 0.3] },
    seed: 12,
    options: {
      widthPx: 2592,
      heightPx: 1944,
      tiltDeg: [15, 15],
      rolls: [-20],
      markKind: 'burnt',
      lensState: 'raw',
    },
  },
] as const;

describe.each(CASES)('one photo of a board $what', ({ turn, seed, options }) => {
  let folder = '';
  let photo: TurnedPhoto;
  let result: Survey;

  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'gantrue-turned-'));
    photo = await photographPair(PAIR, turn, seed, options);
    const written = await writePair(folder, PAIR, photo.jpeg);
    result = await surveyPair(written.photo, written.files);
  }, 300_000);
  afterAll(() => rm(folder, { recursive: true, force: true }));

  it('tells squareness and the ratio of the scales as measured, within 1.5 times U of the truth', () => {
    const { squareness, scale, camera } = result.measurement;
    expect(camera[0]).not.toHaveProperty('make');
    const { truth } = photo;
    for (const [quantity, value] of [
      [squareness, truth.squareness],
      [scale.ratio, truth.scale.ratio],
    ] as const) {
      if (quantity.state !== 'measured') throw new Error(quantity.reason);
      console.log(`${quantity.value} ± ${quantity.U}, truth ${value}`);
      expect(Math.abs(quantity.value - value)).toBeLessThan(1.5 * quantity.U);
      // Where trust in the camera were needed, one tilted photo would tell no better than 1 mm/m.
      expect(quantity.U).toBeLessThan(5e-5);
    }
  });

  it('names both placements: the turn within three times its u, the shift in mm as the machine counts them', () => {
    const { placements } = result.measurement;
    expect(placements.map(({ program }) => program)).toEqual(['first.ngc', 'second.ngc']);
    expect(placements[0]).toMatchObject({ rotation: { value: 0, u: 0 } });
    const [, { rotation, shift }] = placements;
    const told = photo.truth.placements![1];
    expect(Math.abs(rotation.value - told.rotation)).toBeLessThan(3 * rotation.u);
    // Scales of up to 2 mm/m over 500 mm, and what the datum leaves of lines and guides.
    expect(Math.abs(shift.x.value - told.shift.x)).toBeLessThan(1.5);
    expect(Math.abs(shift.y.value - told.shift.y)).toBeLessThan(1.5);
  });

  it('draws the lines of both, and tells each deviation with the program that marked its line', () => {
    const { deviations, placements } = result.measurement;
    const [{ overlay }] = result.photos;
    const [first, second] = placements.map(
      ({ linesAtX, linesAtY }) => linesAtX.length + linesAtY.length,
    );
    expect(overlay.lines).toHaveLength(first + second);
    const linesOf = (placement: number) =>
      deviations.filter((one) => one.placement === placement && one.rung !== true).length;
    expect([linesOf(0), linesOf(1)]).toEqual([first, second]);
    expectSeen(result.measurement);
    // Tilt does no harm here.
    expect(result.measurement.photos[0].verdict?.advice.map(({ about }) => about)).not.toContain(
      'tilt',
    );
  });
});

/** Of both programs nearly all that was looked for was measured. */
function expectSeen({ photos: [record] }: Measurement): void {
  const { segmentsFound = 0, segmentsPredicted = 0 } = record;
  expect(segmentsFound).toBeGreaterThan(0.9 * segmentsPredicted);
  expect(segmentsPredicted).toBeGreaterThan(500);
}
