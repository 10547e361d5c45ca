import { Matrix, solve } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { type ImageMap, measureSegments } from '../../../src/marks/index.js';
import { cutStrokes, describeGrid } from '../../../src/program/index.js';
import { type GreyImage, unwrap } from '../../../src/quantity/index.js';
import { type PhotoSight, sightPhoto } from '../../../src/survey/sight-photo.js';
import {
  drawScene,
  evenly,
  gridStrokes,
  type Scene,
  type SceneOptions,
  straight,
} from '../marks/draw-scene.js';

/** 400 × 300 mm with an origin mark. */
const STROKES = [...gridStrokes(evenly(9, 50), evenly(7, 50)), straight(90, 10, 10, 40, 25)];
const GRID = unwrap(describeGrid(STROKES));
const { segments: SEGMENTS } = cutStrokes(STROKES, GRID);
const SIZE = { width: 1200, height: 900 };
/** Turned a little: lines along the pixels' rows meet them all at one phase. */
const PLAIN = { ...SIZE, strokes: STROKES, markPx: 4, fill: 0.8, rollDeg: 4 } as const;

function draw(changes: Partial<SceneOptions> = {}): Scene {
  return drawScene({ ...PLAIN, ...changes });
}

function sight(scene: Scene, grey: GreyImage = scene.grey, orientation: 1 | 6 = 1) {
  const photo = {
    file: 'drawn.png',
    name: 'drawn.png',
    sha256: '',
    format: 'png' as const,
    widthPx: grey.width,
    heightPx: grey.height,
    exif: { orientation },
  };
  const map = mapOf(scene);
  const marks = unwrap(measureSegments(grey, SEGMENTS, map));
  const found = { map, marks, segments: SEGMENTS };
  return { sight: sightPhoto(photo, grey, GRID, found), marks };
}

/** The homography of the drawn camera, from the truth of four places. */
function mapOf({ truth }: Scene): ImageMap {
  const rows: number[][] = [];
  const right: number[] = [];
  for (const [x, y] of [
    [0, 0],
    [400, 0],
    [0, 300],
    [400, 300],
  ] as const) {
    const [u, v] = truth(x, y);
    rows.push([x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]);
    right.push(u, v);
  }
  const h = solve(new Matrix(rows), Matrix.columnVector(right)).to1DArray();
  return {
    homography: Float64Array.from([...h, 1]),
    centrePx: [(SIZE.width - 1) / 2, (SIZE.height - 1) / 2],
    radiusPx: Math.hypot(SIZE.width, SIZE.height) / 2,
    k1: 0,
    k2: 0,
  };
}

/** A disc of one grey over the board's place. */
function paint(scene: Scene, xMm: number, yMm: number, radiusPx: number, value: number): GreyImage {
  const { width, height } = scene.grey;
  const data = Uint8Array.from(scene.grey.data);
  const [u0, v0] = scene.truth(xMm, yMm);
  for (let v = 0; v < height; v++) {
    for (let u = 0; u < width; u++) {
      if (Math.hypot(u - u0, v - v0) < radiusPx) data[v * width + u] = value;
    }
  }
  return { width, height, data };
}

/** Share of the grid's area under the disc. */
function shareOf(scene: Scene, radiusPx: number): number {
  const [u0, v0] = scene.truth(0, 0);
  const [u1, v1] = scene.truth(400, 0);
  const pxPerMm = Math.hypot(u1 - u0, v1 - v0) / 400;
  return (Math.PI * radiusPx ** 2) / (400 * 300 * pxPerMm ** 2);
}

function missingOf(found: PhotoSight, light: 'bright' | 'dark' | 'normal') {
  return found.missing?.find((one) => one.light === light);
}

const DISC_PX = 115;

describe('what a drawn photo shows', () => {
  it('is a whole grid in even light, with nothing missing', () => {
    const scene = draw();
    const { sight: found } = sight(scene);
    expect(found.exposure).toMatchObject({ area: 'grid', clippedDark: 0, clippedBright: 0 });
    // The drawn board has a grey of 150, with a slope of light about the middle.
    expect(Math.abs(found.exposure.medianGrey - 150)).toBeLessThan(6);
    expect(found.glare).toEqual([]);
    expect(found.missing).toEqual([]);
    expect(found.coverage).toMatchObject({ inPicture: 1, cut: [] });
    const corners = [0, 400].flatMap((x) => [0, 300].map((y) => scene.truth(x, y)));
    const across = corners.map(([u]) => u);
    const width = Math.max(...across) - Math.min(...across);
    expect(found.coverage!.width).toBeCloseTo(width / SIZE.width, 2);
    const [u0, v0] = scene.truth(0, 0);
    const [u1, v1] = scene.truth(400, 0);
    expect(found.coverage!.mmPerPx).toBeCloseTo(400 / Math.hypot(u1 - u0, v1 - v0), 3);
  });

  it('is a glare at the place of a white disc, with its share of the board', () => {
    const scene = draw();
    const { sight: found } = sight(scene, paint(scene, 350, 260, DISC_PX, 255));
    expect(found.glare[0]).toBe('top right');
    const missing = missingOf(found, 'bright');
    expect(missing?.where[0]).toBe('top right');
    // Marks half under the disc may be measured or not; the disc reaches beyond the grid.
    const share = shareOf(scene, DISC_PX);
    expect(missing!.share).toBeGreaterThan(0.4 * share);
    expect(missing!.share).toBeLessThan(1.6 * share);
    expect(found.exposure.clippedBright).toBeGreaterThan(0.5 * share);
    expect(found.exposure.clippedBright).toBeLessThan(1.1 * share);
  });

  it('names the place as people see a picture that was taken on its side', () => {
    // Turned clockwise for display: what is stored at the top right is seen at the bottom right.
    const scene = draw();
    const { sight: found } = sight(scene, paint(scene, 350, 260, DISC_PX, 255), 6);
    expect(missingOf(found, 'bright')?.where[0]).toBe('bottom right');
  });

  it('is the dark under a black disc and a cover under a grey one', () => {
    const scene = draw();
    const dark = sight(scene, paint(scene, 340, 50, DISC_PX, 8));
    expect(missingOf(dark.sight, 'dark')?.where[0]).toBe('bottom right');
    expect(missingOf(dark.sight, 'bright')).toBeUndefined();
    const grey = sight(scene, paint(scene, 200, 150, DISC_PX, 120));
    expect(missingOf(grey.sight, 'normal')?.where[0]).toBe('middle');
    expect(missingOf(grey.sight, 'dark')).toBeUndefined();
  });

  it('has marks of the contrast and width that were drawn', () => {
    // 45 of 150 grey values, 8 px wide; as soft as any lens makes it.
    const scene = draw({ markPx: 8, markGrey: -45 });
    const { marks } = sight(scene, blur(scene.grey, 1));
    for (const family of marks.families) {
      expect(Math.abs(family.contrast - 45 / 150), family.axis).toBeLessThan(0.03);
      expect(Math.abs(family.widthPx - 8), family.axis).toBeLessThan(0.5);
    }
  });

  it('has edges as wide as the blur makes them', () => {
    // 10 to 90 % of a step under a Gaussian of σ: 2 × 1.2816 σ (tables of the normal distribution).
    const sigma = 2;
    const scene = draw({ markPx: 16 });
    const { marks } = sight(scene, blur(scene.grey, sigma));
    // The drawn edge itself is a ramp of one px.
    for (const family of marks.families) {
      expect(Math.abs(family.edgePx - 2 * 1.2816 * sigma), family.axis).toBeLessThan(0.6);
    }
  });

  it('is a camera tilted and turned as it was drawn', () => {
    const { sight: found } = sight(draw({ tiltDeg: 6, leanDeg: 30, rollDeg: 90, fill: 0.6 }));
    // The drawn focal length is 0.75 of the longer side, a usual phone's 0.74.
    expect(Math.abs((found.view!.tiltRad * 180) / Math.PI - 6)).toBeLessThan(0.4);
    // A camera turned counter-clockwise sees the board turned clockwise, or the other way: a quarter.
    expect(Math.abs(Math.abs((found.view!.rollRad * 180) / Math.PI) - 90)).toBeLessThan(1);
  });

  it('is the whole picture where no grid was found', () => {
    const data = new Uint8Array(400 * 300).fill(255);
    data.fill(100, 0, 200 * 300);
    const photo = {
      file: 'a.png',
      name: 'a.png',
      sha256: '',
      format: 'png' as const,
      widthPx: 400,
      heightPx: 300,
      exif: { orientation: 1 as const },
    };
    const found = sightPhoto(photo, { width: 400, height: 300, data }, GRID);
    expect(found.exposure.area).toBe('picture');
    expect(found.exposure.clippedBright).toBeCloseTo(0.5, 6);
    expect(found.glare).not.toContain('top');
    expect(found.glare).toContain('bottom');
    expect(found.coverage).toBeUndefined();
  });
});

/** Gaussian, rows then columns. */
function blur({ width, height, data }: GreyImage, sigma: number): GreyImage {
  const reach = Math.ceil(4 * sigma);
  const weights = Array.from({ length: 2 * reach + 1 }, (_, i) =>
    Math.exp(-((i - reach) ** 2) / (2 * sigma * sigma)),
  );
  const sum = weights.reduce((a, b) => a + b);
  const pass = (from: Float32Array, du: number, dv: number) => {
    const to = new Float32Array(from.length);
    for (let v = 0; v < height; v++) {
      for (let u = 0; u < width; u++) {
        let value = 0;
        for (let k = -reach; k <= reach; k++) {
          const x = Math.min(width - 1, Math.max(0, u + k * du));
          const y = Math.min(height - 1, Math.max(0, v + k * dv));
          value += (weights[k + reach]! / sum) * from[y * width + x]!;
        }
        to[v * width + u] = value;
      }
    }
    return to;
  };
  const blurred = pass(pass(Float32Array.from(data), 1, 0), 0, 1);
  return { width, height, data: Uint8Array.from(blurred, (value) => Math.round(value)) };
}
