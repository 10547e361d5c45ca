import exifr from 'exifr';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import {
  boardFromPixel,
  cameraFrame,
  projectCommanded,
  type RandomSceneOptions,
  randomScene,
  renderPhoto,
  type Scene,
} from '../../../samples/index.js';
import type { Stroke } from '../../../shared/stroke.js';

const LINE: Stroke = {
  id: 0,
  fromMm: [50, 0],
  toMm: [50, 80],
  approachX: 1,
  approachY: 1,
  sourceLine: 1,
};
/** Gives the board its width; too short to count as a line of a grid. */
const TICK: Stroke = { ...LINE, id: 1, fromMm: [0, 40], toMm: [6, 40] };
const SMALL: Partial<RandomSceneOptions> = {
  widthPx: 480,
  heightPx: 360,
  rolls: [0, 90],
  principalWanderPx: 1,
  shadows: false,
  objects: false,
  jpegQuality: 100,
  markKind: 'burnt',
};

function quietScene(seed: number, edgeWanderMm: number, lensState: 'raw' | 'corrected'): Scene {
  const { scene } = randomScene(seed, [LINE, TICK], {
    ...SMALL,
    lensState,
    marks: { edgeWanderMm, wanderLengthMm: 6, unevenness: 0, endBurnMm: 0, haloStrength: 0 },
  });
  const photos = scene.photos.map((photo) => ({
    ...photo,
    noiseCounts: 0.3,
    // Even light: a slope of the ground would move the centre of darkness, not the mark.
    light: {
      ...photo.light,
      gradientPerM: [0, 0] as const,
      vignetting: 0,
      glow: { ...photo.light.glow, strength: 0 },
    },
  }));
  return { ...scene, board: { ...scene.board, material: 'plain' }, photos };
}

async function greyPicture(scene: Scene, photo: number): Promise<(u: number, v: number) => number> {
  const { jpeg } = await renderPhoto(scene, photo);
  const { data, info } = await sharp(jpeg).raw().toBuffer({ resolveWithObject: true });
  expect([info.width, info.height]).toEqual([scene.camera.widthPx, scene.camera.heightPx]);
  // The file's own luma: its colours are stored at half the resolution.
  return (u, v) => {
    const at = 3 * (v * info.width + u);
    return 0.299 * data[at]! + 0.587 * data[at + 1]! + 0.114 * data[at + 2]!;
  };
}

/** The mark is 2 to 4 px wide; a wider window lets in noise, not signal. */
const HALF_WINDOW = 6;

interface Centroid {
  /** Across the line; px. */
  readonly found: number;
  readonly expected: number;
  readonly yMm: number;
}

/** Centre of darkness across the line in each row or column of pixels that crosses it. */
async function centroids(scene: Scene, photo: number, alongV: boolean): Promise<Centroid[]> {
  const grey = await greyPicture(scene, photo);
  const project = (yMm: number) => {
    const [u, v] = projectCommanded(scene, photo, 50, yMm, 1, 1);
    return alongV ? ([v, u] as const) : ([u, v] as const);
  };
  const value = (along: number, across: number) =>
    alongV ? grey(across, along) : grey(along, across);
  const ends = [project(8)[0], project(72)[0]];
  const result: Centroid[] = [];
  for (let along = Math.ceil(Math.min(...ends)); along < Math.max(...ends); along++) {
    const yMm = placeAt(project, along);
    const expected = project(yMm)[1];
    const from = Math.round(expected) - HALF_WINDOW;
    const values = Array.from({ length: 2 * HALF_WINDOW + 1 }, (_, i) => value(along, from + i));
    const ground = (values[0]! + values[1]! + values.at(-2)! + values.at(-1)!) / 4;
    let dark = 0;
    let moment = 0;
    values.forEach((grey, i) => {
      dark += ground - grey;
      moment += (ground - grey) * (from + i);
    });
    result.push({ found: moment / dark, expected, yMm });
  }
  return result;
}

/** The commanded place on the line that appears at a row or column, by halving. */
function placeAt(project: (yMm: number) => readonly [number, number], along: number): number {
  let low = 0;
  let high = 80;
  const rising = project(high)[0] > project(low)[0];
  for (let step = 0; step < 50; step++) {
    const middle = (low + high) / 2;
    if (project(middle)[0] < along === rising) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;

describe('a rendered photo', () => {
  it.each([
    [11, 'corrected'],
    [12, 'raw'],
    [13, 'raw'],
  ] as const)(
    'shows a mark within 0.01 px of where the camera puts it (seed %i, %s lens)',
    async (seed, lens) => {
      const scene = quietScene(seed, 0, lens);
      for (const [photo, alongV] of [
        [0, true],
        [1, false],
      ] as const) {
        const off = (await centroids(scene, photo, alongV)).map((c) => c.found - c.expected);
        expect(off.length).toBeGreaterThan(100);
        expect(Math.abs(mean(off))).toBeLessThan(0.01);
      }
    },
  );

  it('shows the wander of an edge at the same place of the board in every photo', async () => {
    const scene = quietScene(21, 0.2, 'corrected');
    const wanderOf = async (photo: number, alongV: boolean) => {
      const plan = scene.photos[photo]!;
      const frame = cameraFrame(plan.stand);
      const found = await centroids(scene, photo, alongV);
      const points = found.map(({ found, expected, yMm }) => {
        const [u, v] = projectCommanded(scene, photo, 50, yMm, 1, 1);
        const moved = found - expected;
        const pixel = alongV ? [u + moved, v] : [u, v + moved];
        const board = boardFromPixel(plan.lens, frame, undefined, pixel[0]!, pixel[1]!)!;
        const still = boardFromPixel(plan.lens, frame, undefined, u, v)!;
        return { yMm, wander: board[0] - still[0] };
      });
      // Means over 4 mm, so that the photos' different pixels matter less.
      return Array.from({ length: 14 }, (_, i) =>
        mean(
          points
            .filter(({ yMm }) => yMm >= 10 + 4 * i && yMm < 14 + 4 * i)
            .map(({ wander }) => wander),
        ),
      );
    };
    const first = await wanderOf(0, true);
    const second = await wanderOf(1, false);
    const spread = Math.sqrt(mean(first.map((w) => w * w)));
    const difference = Math.sqrt(mean(first.map((w, i) => (w - second[i]!) ** 2)));
    expect(spread).toBeGreaterThan(0.06);
    // Noise of a 4 mm mean is a twentieth of the spread; wander of its own would make it 1.4 of it.
    expect(difference).toBeLessThan(0.25 * spread);
  });

  it('is the same to the byte from the same seed, and another from another', async () => {
    const make = async (seed: number) =>
      (await renderPhoto(randomScene(seed, [LINE, TICK], SMALL).scene, 1)).jpeg;
    const first = await make(5);
    expect(first.equals(await make(5))).toBe(true);
    expect(first.equals(await make(6))).toBe(false);
  });

  it('states camera, lens, time and orientation, the raster left in the sensor frame', async () => {
    const { scene } = randomScene(31, [LINE, TICK], SMALL);
    const turned: Scene = {
      ...scene,
      camera: { ...scene.camera, widthPx: 400, heightPx: 300, nominalFocalPx: 300 },
      photos: scene.photos.map((photo) => ({ ...photo, orientation: 6 })),
    };
    const { jpeg } = await renderPhoto(turned, 1);
    const tags = await exifr.parse(jpeg, { translateValues: false, reviveValues: false });
    expect(tags).toMatchObject({
      Make: 'Phone',
      Model: 'Main camera',
      Orientation: 6,
      FocalLength: 5.4,
      // 300 px on a diagonal of 500 px; the film's diagonal is 43.27 mm.
      FocalLengthIn35mmFormat: 26,
    });
    expect(tags.DateTimeOriginal).toMatch(/^2026:11:20 10:04:\d\d$/);
    const { width, height } = await sharp(jpeg).metadata();
    expect([width, height]).toEqual([400, 300]);
  });
});
