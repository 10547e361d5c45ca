import { describe, expect, it } from 'vitest';
import type { Stroke } from '../../../shared/stroke.js';
import { findLattice } from '../../../src/marks/find-lattice.js';
import type { LatticeFit } from '../../../src/marks/finish-placement.js';
import { type ImageMap, imageFromCommanded } from '../../../src/marks/image-map.js';
import type { GreyImage } from '../../../src/quantity/index.js';
import {
  drawScene,
  evenly,
  gridStrokes,
  randomFrom,
  type Scene,
  type SceneOptions,
  straight,
} from './draw-scene.js';

/** The later stage looks three pixels to either side: half of that is room enough for the map. */
const MAP_TOLERANCE_PX = 1.5;

const xs = evenly(25, 30);
const ys = evenly(17, 30);
const plain = gridStrokes(xs, ys);
const base = { width: 1000, height: 750, strokes: plain, markPx: 2 } satisfies SceneOptions;

async function fitOf(scene: Scene, strokes: readonly Stroke[]): Promise<LatticeFit> {
  const outcome = await findLattice(scene.grey, strokes);
  if (!outcome.ok) throw outcome.failure;
  return outcome.value;
}

async function failureOf(grey: GreyImage, strokes: readonly Stroke[]) {
  const outcome = await findLattice(grey, strokes);
  return outcome.ok ? undefined : outcome.failure;
}

/** Largest distance from the truth over the grid, px. */
function worstOff(scene: Scene, map: ImageMap, wMm: number, hMm: number): number {
  let worst = 0;
  for (let i = 0; i <= 6; i++) {
    for (let j = 0; j <= 6; j++) {
      const x = (wMm * i) / 6;
      const y = (hMm * j) / 6;
      const [u, v] = scene.truth(x, y);
      const [uFound, vFound] = imageFromCommanded(map, x, y);
      worst = Math.max(worst, Math.hypot(u - uFound, v - vFound));
    }
  }
  return worst;
}

/** The best of the returned placement and its rivals: a plain grid has no right way round. */
function worstOffAnyTurn(scene: Scene, fit: LatticeFit, wMm: number, hMm: number): number {
  const maps = [fit.map, ...fit.rivals.map((rival) => rival.map)];
  return Math.min(...maps.map((map) => worstOff(scene, map, wMm, hMm)));
}

describe('a plain grid is found to a fraction of a pixel', () => {
  const cases: [string, Partial<SceneOptions>][] = [
    ['square-on', {}],
    ['turned by 45°', { rollDeg: 45 }],
    ['turned by 93°', { rollDeg: 93 }],
    ['tilted by 30° along its length', { tiltDeg: 30, leanDeg: 0 }],
    ['tilted by 30° askew', { tiltDeg: 30, leanDeg: 50, rollDeg: 20 }],
    ['tilted by 45° askew', { tiltDeg: 45, leanDeg: 200, rollDeg: 70 }],
    ['with 5 % barrel distortion', { distortion: -0.05, fill: 1, rollDeg: 3 }],
    ['with 5 % pincushion distortion and 30° tilt', { distortion: 0.05, tiltDeg: 30, leanDeg: 20 }],
    ['in marks a pixel wide', { markPx: 1, rollDeg: 5 }],
    ['in marks 7 px wide', { markPx: 7, rollDeg: 5 }],
    ['in bright marks', { markGrey: 45, rollDeg: 95 }],
    ['in grooves, half bright and half dark', { grooved: true, markPx: 4, rollDeg: -8 }],
    ['at a contrast of ten grey values', { markGrey: -10, rollDeg: 2 }],
    ['on a strongly grained board', { grainGrey: 20, rollDeg: 88, tiltDeg: 20, leanDeg: 70 }],
    ['among 25 other lines', { clutter: 25, rollDeg: 7 }],
    ['with two fifths of the board covered', { covered: 0.4, rollDeg: 12 }],
  ];
  for (const [index, [title, options]] of cases.entries()) {
    it(title, async () => {
      const scene = drawScene({ ...base, seed: 10 + index, ...options });
      const fit = await fitOf(scene, plain);
      expect(worstOffAnyTurn(scene, fit, 720, 480)).toBeLessThan(MAP_TOLERANCE_PX);
    });
  }
});

describe('grids of other shapes are found', () => {
  const cases: [string, number[], number[], Partial<SceneOptions>][] = [
    ['five by four lines', evenly(5, 120), evenly(4, 120), { tiltDeg: 20, rollDeg: 9 }],
    ['sixty by sixty lines', evenly(60, 9), evenly(60, 9), { width: 1600, height: 1200, fill: 1 }],
    ['twelve by twelve lines 30 × 45 mm apart', evenly(12, 30), evenly(12, 45), { rollDeg: 50 }],
    [
      'unequally spaced lines',
      [0, 30, 65, 130, 150, 220, 300, 345, 420],
      [0, 40, 60, 130, 200, 235, 310],
      { rollDeg: 100, tiltDeg: 20 },
    ],
  ];
  for (const [title, x, y, options] of cases) {
    it(title, async () => {
      const strokes = gridStrokes(x, y);
      const scene = drawScene({ ...base, strokes, ...options });
      const fit = await fitOf(scene, strokes);
      const off = worstOffAnyTurn(scene, fit, x[x.length - 1], y[y.length - 1]);
      expect(off).toBeLessThan(MAP_TOLERANCE_PX);
    });
  }

  it('a pitch ratio given wrongly by four per cent does no harm', async () => {
    const drawn = gridStrokes(evenly(19, 22), evenly(19, 23.7));
    const scene = drawScene({ ...base, strokes: drawn, rollDeg: 30, tiltDeg: 20 });
    const fit = await fitOf(scene, gridStrokes(evenly(19, 22), evenly(19, 24.6)));
    const corners = [
      [0, 0],
      [396, 0],
      [396, 426.6],
      [0, 426.6],
    ].map(([x, y]) => scene.truth(x, y));
    for (const [x, y] of [
      [0, 0],
      [396, 442.8],
    ]) {
      const [u, v] = imageFromCommanded(fit.map, x, y);
      const nearest = Math.min(...corners.map((c) => Math.hypot(c[0] - u, c[1] - v)));
      expect(nearest).toBeLessThan(MAP_TOLERANCE_PX);
    }
  });
});

describe('which way round', () => {
  it('a plain oblong grid has the half turn as its one rival and is not certain', async () => {
    const scene = drawScene({ ...base, rollDeg: 4 });
    const fit = await fitOf(scene, plain);
    expect(fit.certain).toBe(false);
    expect(fit.rivals.map((rival) => rival.rotationDeg)).toEqual([180]);
  });

  it('a plain square grid has three rivals, one of them or itself true', async () => {
    const strokes = gridStrokes(evenly(13, 30), evenly(13, 30));
    const scene = drawScene({ ...base, strokes, rollDeg: 200 });
    const fit = await fitOf(scene, strokes);
    expect(fit.certain).toBe(false);
    expect(fit.rivals.map((rival) => rival.rotationDeg).sort((a, b) => a - b)).toEqual([
      90, 180, 270,
    ]);
    expect(worstOffAnyTurn(scene, fit, 360, 360)).toBeLessThan(MAP_TOLERANCE_PX);
  });

  for (const rollDeg of [10, 100, 280]) {
    it(`an origin mark makes it certain and right, turned by ${rollDeg}°`, async () => {
      const strokes = [
        ...gridStrokes(evenly(13, 30), evenly(13, 30)),
        straight(900, 10, 10, 20, 10),
        straight(901, 10, 10, 10, 20),
        straight(902, 10, 20, 20, 10),
      ];
      const scene = drawScene({ ...base, strokes, rollDeg, seed: rollDeg });
      const fit = await fitOf(scene, strokes);
      expect(fit.certain).toBe(true);
      expect(worstOff(scene, fit.map, 360, 360)).toBeLessThan(MAP_TOLERANCE_PX);
    });
  }

  it('unequal spacing makes it certain and right', async () => {
    const strokes = gridStrokes([0, 30, 65, 130, 150, 220, 300], [0, 40, 60, 130, 200, 235, 310]);
    const scene = drawScene({ ...base, strokes, rollDeg: 130 });
    const fit = await fitOf(scene, strokes);
    expect(fit.certain).toBe(true);
    expect(worstOff(scene, fit.map, 300, 310)).toBeLessThan(MAP_TOLERANCE_PX);
  });
});

describe('what the marks look like', () => {
  it('polarity and width are those drawn', async () => {
    const dark = await fitOf(drawScene({ ...base, markPx: 5, rollDeg: 3 }), plain);
    expect(dark.polarity).toBe('dark');
    // Half a pixel: the drawn mark's edges are anti-aliased over one.
    expect(Math.abs(dark.markWidthPx - 5)).toBeLessThan(0.5);
    const bright = await fitOf(drawScene({ ...base, markGrey: 45, rollDeg: 3 }), plain);
    expect(bright.polarity).toBe('bright');
    const groove = await fitOf(drawScene({ ...base, grooved: true, markPx: 5, rollDeg: 3 }), plain);
    expect(groove.polarity).toBe('mixed');
  });

  it('the share found falls with the cover', async () => {
    const open = await fitOf(drawScene({ ...base, rollDeg: 3 }), plain);
    const covered = await fitOf(drawScene({ ...base, covered: 0.5, rollDeg: 3 }), plain);
    expect(open.shareFound).toBeGreaterThan(0.98);
    expect(covered.shareFound).toBeLessThan(0.85);
    expect(covered.shareFound).toBeGreaterThan(0.4);
  });
});

describe('a grid that is not the program’s is refused', () => {
  const counts: [number, number][] = [
    [24, 17],
    [25, 18],
    [13, 9],
    [49, 33],
  ];
  for (const [nx, ny] of counts) {
    it(`a board of ${nx} × ${ny} lines`, async () => {
      const drawn = gridStrokes(evenly(nx, 720 / (nx - 1)), evenly(ny, 480 / (ny - 1)));
      const scene = drawScene({ ...base, strokes: drawn, rollDeg: 6, seed: nx });
      const failure = await failureOf(scene.grey, plain);
      expect(failure?.code).toBe('GRID_NOT_FOUND');
    });
  }

  it('the refusal says how many lines were seen', async () => {
    const drawn = gridStrokes(evenly(24, 30), ys);
    const scene = drawScene({ ...base, strokes: drawn, rollDeg: 6 });
    const failure = await failureOf(scene.grey, plain);
    expect(failure?.message).toContain('24 × 17 lines seen, the program has 25 × 17');
  });

  it('lines in one direction only are named so', async () => {
    const drawn = plain.filter((stroke) => stroke.fromMm[0] === stroke.toMm[0]);
    const scene = drawScene({ ...base, strokes: drawn, rollDeg: 6 });
    const failure = await failureOf(scene.grey, plain);
    expect(failure?.code).toBe('GRID_NOT_FOUND');
    expect(failure?.message).toContain('one direction');
  });

  it('a grid cut by the picture’s edge on one side counts from the other side', async () => {
    const scene = drawScene({ ...base, rollDeg: 2 });
    const outcome = await findLattice(cropColumns(scene.grey, 0, 650), plain);
    if (!outcome.ok) throw outcome.failure;
    expect(worstOffAnyTurn(scene, outcome.value, 720, 480)).toBeLessThan(2 * MAP_TOLERANCE_PX);
    expect(outcome.value.shareInPicture).toBeLessThan(0.8);
  });

  it('a grid cut on both sides is not counted', async () => {
    const scene = drawScene({ ...base, rollDeg: 2 });
    const failure = await failureOf(cropColumns(scene.grey, 250, 650), plain);
    expect(['GRID_NOT_FOUND', 'GRID_AMBIGUOUS']).toContain(failure?.code);
  });
});

describe('a picture without a grid is refused', () => {
  const width = 1200;
  const height = 900;
  const painted = (paint: (u: number, v: number) => number): GreyImage => {
    const data = new Uint8Array(width * height);
    for (let i = 0; i < data.length; i++) data[i] = paint(i % width, Math.floor(i / width));
    return { width, height, data };
  };
  const noise = randomFrom(5);
  const letters = randomFrom(6);
  const page = drawText(width, height, letters);
  const cases: [string, GreyImage][] = [
    ['blank', painted(() => 128)],
    ['noise', painted(() => 255 * noise())],
    ['rings', painted((u, v) => (Math.hypot(u - 600, v - 450) % 40 < 4 ? 40 : 180))],
    ['rows of text', page],
    ['bare grained board', drawScene({ ...base, width, height, markGrey: 0, grainGrey: 15 }).grey],
  ];
  for (const [title, grey] of cases) {
    it(title, async () => {
      const failure = await failureOf(grey, plain);
      expect(['GRID_NOT_FOUND', 'PHOTO_BLURRED']).toContain(failure?.code);
    });
  }

  it('strokes that form no grid are named as such', async () => {
    const failure = await failureOf(page, [straight(0, 0, 0, 100, 0), straight(1, 0, 0, 0, 100)]);
    expect(failure?.code).toBe('PROGRAM_NO_GRID');
  });
});

function cropColumns(grey: GreyImage, from: number, to: number): GreyImage {
  const width = to - from;
  const data = new Uint8Array(width * grey.height);
  for (let v = 0; v < grey.height; v++) {
    const row = v * grey.width;
    data.set(grey.data.subarray(row + from, row + to), v * width);
  }
  return { width, height: grey.height, data };
}

/** Rows of words made of upright, level and slanting strokes, as print has. */
function drawText(width: number, height: number, random: () => number): GreyImage {
  const data = new Uint8Array(width * height).fill(225);
  const dot = (u: number, v: number) => {
    for (let dv = 0; dv < 3; dv++) {
      for (let du = 0; du < 3; du++) data[(v + dv) * width + u + du] = 40;
    }
  };
  for (let top = 40; top < height - 60; top += 34) {
    for (let left = 40; left < width - 60; left += 16) {
      if (random() < 0.15) continue;
      const kind = Math.floor(random() * 6);
      for (let t = 0; t < 20; t++) {
        if (kind !== 1) dot(left, top + t);
        if (kind >= 1 && t < 10) dot(left + t, top + (kind % 2 === 0 ? 10 : 0));
        if (kind >= 3) dot(left + Math.floor(t / 2), top + t);
        if (kind === 5) dot(left + 10, top + t);
      }
    }
  }
  return { width, height, data };
}
