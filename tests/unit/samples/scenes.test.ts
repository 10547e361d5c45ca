import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import {
  gridProgram,
  landedPosition,
  placesAlongStrokes,
  projectCommanded,
  randomScene,
  signShopSet,
  simulate,
  simulateObservations,
} from '../../../samples/index.js';

const { strokes } = gridProgram({ xMm: [0, 40, 80, 120, 160], yMm: [0, 40, 80, 120] });

describe('a random scene', () => {
  it('shows every mark in every photo', () => {
    for (let seed = 1; seed <= 20; seed++) {
      const { scene } = randomScene(seed, strokes);
      const places = placesAlongStrokes(strokes, 10);
      expect(simulateObservations(scene, places)).toHaveLength(8 * places.length);
    }
  });

  it('holds the phone at each quarter turn twice, within 1 to 3 degrees of square-on', () => {
    const { photos } = randomScene(3, strokes).scene;
    const turns = photos.map(({ stand }) => Math.round(stand.rollRad / (Math.PI / 2)));
    expect(turns.map((turn) => turn + 0).sort()).toEqual([0, 0, 1, 1, 2, 2, 3, 3]);
    for (const { stand } of photos) {
      expect((stand.tiltRad * 180) / Math.PI).toBeGreaterThanOrEqual(1);
      expect((stand.tiltRad * 180) / Math.PI).toBeLessThanOrEqual(3);
    }
  });

  it('reads the tape with the uncertainty that it states', () => {
    // 400 readings: their standard deviation is known to 3.5 %, their mean to 5 % of u.
    const errors = Array.from({ length: 400 }, (_, i) => {
      const { taped } = randomScene(1000 + i, strokes, { tapeUMm: 0.2, rolls: [] });
      return (taped.lengthMm - taped.trueLengthMm) / 0.2;
    });
    const mean = errors.reduce((sum, e) => sum + e, 0) / errors.length;
    const deviation = Math.sqrt(errors.reduce((sum, e) => sum + e * e, 0) / errors.length);
    expect(Math.abs(mean)).toBeLessThan(0.2);
    expect(deviation).toBeGreaterThan(0.86);
    expect(deviation).toBeLessThan(1.14);
  });
});

describe('observations without pictures', () => {
  it('scatter by the stated pixel noise, and by the marks’ own wander alike in all photos', () => {
    const { scene } = randomScene(9, strokes, { rolls: [0, 0] });
    const places = placesAlongStrokes(strokes, 2);
    const departure = (sigmaPx: number, sigmaMarkMm: number) =>
      simulateObservations(scene, places, { sigmaPx, sigmaMarkMm }).map((seen) => {
        const at = projectCommanded(
          scene,
          seen.photoIndex,
          seen.xMm,
          seen.yMm,
          seen.approachX,
          seen.approachY,
        );
        return seen.u - at[0];
      });
    const rms = (values: number[]) =>
      Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length);
    const pixels = departure(0.2, 0);
    expect(rms(pixels)).toBeGreaterThan(0.185);
    expect(rms(pixels)).toBeLessThan(0.215);
    const marks = departure(0, 0.05);
    const half = marks.length / 2;
    const between = marks.slice(0, half).map((value, i) => value - (marks[half + i] as number));
    expect(rms(marks)).toBeGreaterThan(0.3);
    // The two photos stand at slightly different heights and rolls.
    expect(rms(between)).toBeLessThan(0.3 * rms(marks));
  });
});

describe('simulate', () => {
  it('writes photos, truth and evidence, and the taped length as people give it', async () => {
    const outDir = await mkdtemp(join(tmpdir(), 'gantrue-simulate-'));
    try {
      const told: string[] = [];
      const result = await simulate({
        strokes,
        seed: 4,
        outDir,
        options: { widthPx: 240, heightPx: 180, rolls: [0, 90] },
        onPhoto: (file, done, total) => told.push(`${done}/${total} ${file}`),
      });
      expect(result.files.map((file) => file.slice(outDir.length + 1))).toEqual([
        'photo-1.jpg',
        'photo-2.jpg',
        'truth.json',
        'evidence.yaml',
      ]);
      expect(told).toHaveLength(2);
      const truth = JSON.parse(await readFile(join(outDir, 'truth.json'), 'utf8'));
      expect(truth.squareness).toBe(result.truth.squareness);
      expect(truth.photos).toHaveLength(2);
      expect(result.known).toMatch(/^0,0 160,(0|120) \d+(\.\d+)? 0\.15$/);
    } finally {
      await rm(outDir, { recursive: true });
    }
  });
});

describe('the sign shop sample', () => {
  const { scene, taped } = signShopSet();

  it('is 0.85 mm/m out of square at the grid’s own corners, but for bow and single lines', () => {
    const { machine } = scene;
    const at = (x: number, y: number) => landedPosition(machine, x, y, 0, 0);
    const [a, b, c, d] = [at(0, 0), at(720, 0), at(720, 480), at(0, 480)];
    const ac = Math.hypot(c[0] - a[0], c[1] - a[1]);
    const bd = Math.hypot(d[0] - b[0], d[1] - b[1]);
    // Lean toward +X lengthens the diagonal from the origin: (AC² - BD²) / (4 W H).
    const squareness = (ac * ac - bd * bd) / (4 * 720 * 480);
    // Four lines' own deviations of some 0.02 mm over 480 mm: 0.06 mm/m at the most.
    expect(Math.abs(squareness - 0.85e-3)).toBeLessThan(6e-5);
  });

  it('was taped within three times what tape and reading allow', () => {
    for (const { lengthMm, trueLengthMm } of taped) {
      // Class II: 0.3 mm + 0.2 mm per metre, and 0.2 mm of reading.
      expect(Math.abs(lengthMm - trueLengthMm)).toBeLessThan(0.5);
      expect(lengthMm).not.toBe(trueLengthMm);
    }
  });
});
