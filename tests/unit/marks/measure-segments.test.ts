import { describe, expect, it } from 'vitest';
import { type ImageMap, type MeasuredMarks, measureSegments } from '../../../src/marks/index.js';
import { type BoardSegment, cutStrokes, describeGrid } from '../../../src/program/index.js';
import { type GreyImage, unwrap } from '../../../src/quantity/index.js';
import { type DrawnLine, drawMarks } from './draw-marks.js';
import { evenly, gridStrokes, randomFrom } from './draw-scene.js';

const WIDTH = 940;
const HEIGHT = 940;
const PX_PER_MM = 4;
const xs = evenly(9, 22);
const ys = evenly(7, 22);
/** Wandering marks leave about 0.05 px; the measurement itself must be finer. */
const EXACT_PX = 0.02;

const strokes = gridStrokes(xs, ys);
const { segments } = cutStrokes(strokes, unwrap(describeGrid(strokes)));

/** Commanded mm → px of the drawing: turned, y up, slightly convergent. */
function drawnMap(rollDeg: number): ImageMap {
  const c = PX_PER_MM * Math.cos((rollDeg * Math.PI) / 180);
  const s = PX_PER_MM * Math.sin((rollDeg * Math.PI) / 180);
  const [xMiddle, yMiddle] = [88, 66];
  // Convergence of 1 % over the grid.
  const [p, q] = [6e-5, -4e-5];
  const [u, v] = [WIDTH / 2 - 3.3, HEIGHT / 2 + 2.1];
  const w = 1 - p * xMiddle - q * yMiddle;
  return {
    homography: Float64Array.of(
      c + u * p,
      s + u * q,
      u * w - c * xMiddle - s * yMiddle,
      s + v * p,
      -c + v * q,
      v * w - s * xMiddle + c * yMiddle,
      p,
      q,
      w,
    ),
    centrePx: [WIDTH / 2, HEIGHT / 2],
    radiusPx: Math.hypot(WIDTH, HEIGHT) / 2,
    k1: 0,
    k2: 0,
  };
}

function project({ homography: h }: ImageMap, x: number, y: number): [number, number] {
  const w = h[6] * x + h[7] * y + h[8];
  return [(h[0] * x + h[1] * y + h[2]) / w, (h[3] * x + h[4] * y + h[5]) / w];
}

/** The map the search would hand over: off by a px and a half, a little turned and too large. */
function roughly(map: ImageMap): ImageMap {
  const homography = Float64Array.from(map.homography);
  homography[0] *= 1.004;
  homography[1] += 0.012;
  homography[2] += 0.6;
  homography[5] -= 1.2;
  return { ...map, homography };
}

interface Drawn {
  readonly grey: GreyImage;
  readonly start: ImageMap;
  /** The line that a segment lies on. */
  lineOf(segment: BoardSegment): DrawnLine;
}

function drawGrid(
  rollDeg: number,
  marks: {
    look: 'dark' | 'bright' | 'pair';
    widthPx: number;
    blurPx?: number;
    noiseGrey?: number;
    seed?: number;
  },
): Drawn {
  const map = drawnMap(rollDeg);
  const random = randomFrom(77);
  // Every line lies a little off its place, as a machine would leave it.
  const lines = strokes.map(({ fromMm, toMm }): DrawnLine => {
    const off = 0.2 * (random() - 0.5);
    const [dx, dy] = fromMm[0] === toMm[0] ? [off, 0] : [0, off];
    return {
      from: project(map, fromMm[0] + dx, fromMm[1] + dy),
      to: project(map, toMm[0] + dx, toMm[1] + dy),
    };
  });
  const grey = drawMarks({
    width: WIDTH,
    height: HEIGHT,
    lines,
    depthGrey: 70,
    blurPx: 1.2,
    noiseGrey: 1,
    seed: 5,
    ...marks,
  });
  return {
    grey,
    start: roughly(map),
    lineOf: (segment) => lines[segment.strokeId],
  };
}

/** How far each observation lies from the drawn line; px, along the stated normal. */
function errorsOf(drawn: Drawn, measured: MeasuredMarks): number[] {
  return measured.observations.map((o) => {
    const { from, to } = drawn.lineOf(segments[o.segmentId]);
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    const distance =
      ((o.uPx - from[0]) * (to[1] - from[1]) - (o.vPx - from[1]) * (to[0] - from[0])) / length;
    const facing = (o.normalU * (to[1] - from[1]) - o.normalV * (to[0] - from[0])) / length;
    return distance / facing;
  });
}

const worst = (values: readonly number[]) => Math.max(...values.map(Math.abs));

function measure(drawn: Drawn): MeasuredMarks {
  return unwrap(measureSegments(drawn.grey, segments, drawn.start));
}

describe('drawn lines are found where they were drawn', () => {
  const cases: [string, number, Parameters<typeof drawGrid>[1], string][] = [
    ['dark, 3 px wide', 4, { look: 'dark', widthPx: 3 }, 'dark'],
    ['dark, along the rows of pixels', 0, { look: 'dark', widthPx: 2.5 }, 'dark'],
    ['dark, aslant', 44, { look: 'dark', widthPx: 2 }, 'dark'],
    ['bright, 5 px wide', 93, { look: 'bright', widthPx: 5 }, 'bright'],
    ['bright beside dark', 183, { look: 'pair', widthPx: 5 }, 'mixed'],
    ['12 px wide', -7, { look: 'dark', widthPx: 12 }, 'dark'],
    ['blurred over 5 px', 11, { look: 'dark', widthPx: 2, blurPx: 5 }, 'dark'],
  ];
  for (const [title, rollDeg, marks, polarity] of cases) {
    it(title, () => {
      const drawn = drawGrid(rollDeg, marks);
      const measured = measure(drawn);
      expect(measured.observations).toHaveLength(segments.length);
      expect(worst(errorsOf(drawn, measured))).toBeLessThan(EXACT_PX);
      expect(measured.families.map((family) => family.polarity)).toEqual([polarity, polarity]);
    });
  }

  it('in noise the errors are as large as stated', () => {
    const ratios = [5, 6, 7, 8].flatMap((seed) => {
      const drawn = drawGrid(4, { look: 'dark', widthPx: 3, noiseGrey: 14, seed });
      const measured = measure(drawn);
      return errorsOf(drawn, measured).map((e, i) => e / measured.observations[i].sigmaPx);
    });
    const rms = Math.sqrt(ratios.reduce((sum, r) => sum + r * r, 0) / ratios.length);
    // One drawing's 110 values share one estimate of their scatter, good to a tenth: four are tried.
    expect(rms).toBeGreaterThan(0.8);
    expect(rms).toBeLessThan(1.2);
  });

  it('width, contrast and edge are those of the drawing', () => {
    const { families } = measure(drawGrid(4, { look: 'dark', widthPx: 8, blurPx: 3 }));
    for (const family of families) {
      expect(family.widthPx).toBeCloseTo(8, 1);
      // 70 of 150 grey values.
      expect(family.contrast).toBeCloseTo(0.467, 2);
      // A ramp of 3 px, rounded by the pixel: 80 % of it and a little.
      expect(family.edgePx).toBeGreaterThan(2.3);
      expect(family.edgePx).toBeLessThan(2.8);
    }
  });

  it('the normal points to the rising coordinate', () => {
    const drawn = drawGrid(93, { look: 'dark', widthPx: 3 });
    const map = drawnMap(93);
    for (const o of measure(drawn).observations) {
      const { axis } = segments[o.segmentId];
      const here = project(map, o.xMm, o.yMm);
      const there = project(map, o.xMm + (axis === 'x' ? 1 : 0), o.yMm + (axis === 'y' ? 1 : 0));
      const rise = (there[0] - here[0]) * o.normalU + (there[1] - here[1]) * o.normalV;
      expect(rise).toBeGreaterThan(0.99 * Math.hypot(there[0] - here[0], there[1] - here[1]));
    }
  });
});

describe('what hides a mark', () => {
  const drawn = drawGrid(3, { look: 'dark', widthPx: 3, noiseGrey: 2 });
  const map = drawnMap(3);
  const middleOf = (s: BoardSegment) =>
    project(map, (s.fromMm[0] + s.toMm[0]) / 2, (s.fromMm[1] + s.toMm[1]) / 2);
  /** Paints all pixels within a rectangle. */
  function paint(
    [u, v]: readonly [number, number],
    halfU: number,
    halfV: number,
    tone: (old: number) => number,
  ): Drawn {
    const data = Uint8Array.from(drawn.grey.data);
    for (let y = Math.ceil(v - halfV); y <= v + halfV; y++) {
      for (let x = Math.ceil(u - halfU); x <= u + halfU; x++) {
        data[y * WIDTH + x] = tone(data[y * WIDTH + x]);
      }
    }
    return { ...drawn, grey: { ...drawn.grey, data } };
  }
  const hidden = segments.filter((s) => s.axis === 'x')[20];
  const has = (measured: MeasuredMarks) =>
    measured.observations.some((o) => o.segmentId === hidden.id);

  it('a sheet of paper over a segment: it is refused, its neighbours are not hurt', () => {
    const covered = paint(middleOf(hidden), 20, 45, () => 205);
    const measured = measure(covered);
    expect(has(measured)).toBe(false);
    expect(measured.rejected.covered + measured.rejected.unlike).toBeGreaterThanOrEqual(1);
    expect(measured.observations.length).toBeGreaterThan(segments.length - 6);
    expect(worst(errorsOf(covered, measured))).toBeLessThan(2 * EXACT_PX);
  });

  it('a strip whose edge runs beside the mark is not taken for the mark', () => {
    const [u, v] = middleOf(hidden);
    const covered = paint([u + 10, v], 11, 45, () => 70);
    const measured = measure(covered);
    expect(has(measured)).toBe(false);
    expect(worst(errorsOf(covered, measured))).toBeLessThan(2 * EXACT_PX);
  });

  it('a cover over a third of a segment does not move the rest', () => {
    const [u, v] = middleOf(hidden);
    const covered = paint([u, v - 35], 20, 18, () => 205);
    const measured = measure(covered);
    expect(worst(errorsOf(covered, measured))).toBeLessThan(2 * EXACT_PX);
  });

  it('a shadow over half of the picture moves nothing', () => {
    const [u, v] = middleOf(hidden);
    const shadowed = paint([u, v], Math.min(u, WIDTH - 1 - u), 250, (old) => Math.round(0.6 * old));
    const measured = measure(shadowed);
    expect(worst(errorsOf(shadowed, measured))).toBeLessThan(3 * EXACT_PX);
    expect(measured.observations.length).toBeGreaterThan(0.8 * segments.length);
  });
});

describe('pictures that show no marks are refused', () => {
  const { grey, start } = drawGrid(4, { look: 'dark', widthPx: 3 });

  it('an even board', () => {
    const random = randomFrom(3);
    const data = grey.data.map(() => 140 + Math.floor(8 * random()));
    const outcome = measureSegments({ ...grey, data }, segments, start);
    expect(outcome.ok ? undefined : outcome.failure.code).toBe('GRID_NOT_FOUND');
  });

  it('a picture out of focus', () => {
    // Standard deviation 24 px: a quarter of the gap between lines.
    const wide = drawGrid(4, { look: 'dark', widthPx: 12 });
    const blurred = blur(blur(blur(wide.grey, 24), 24), 24);
    const outcome = measureSegments(blurred, segments, start);
    expect(outcome.ok ? undefined : outcome.failure.code).toBe('PHOTO_BLURRED');
  });

  it('a grid elsewhere in the picture', () => {
    const homography = Float64Array.from(start.homography);
    homography[2] += 44;
    homography[5] += 44;
    const outcome = measureSegments(grey, segments, { ...start, homography });
    expect(outcome.ok ? undefined : outcome.failure.code).toBe('GRID_NOT_FOUND');
  });
});

/** Mean over a square. */
function blur({ width, height, data }: GreyImage, half: number): GreyImage {
  const once = (values: Uint8Array, step: number, length: number, from: number) => {
    const out = new Float64Array(length);
    let sum = 0;
    const at = (i: number) => values[from + step * Math.max(0, Math.min(length - 1, i))];
    for (let i = -half; i <= half; i++) sum += at(i);
    for (let i = 0; i < length; i++) {
      out[i] = sum / (2 * half + 1);
      sum += at(i + half + 1) - at(i - half);
    }
    return out;
  };
  const rows = new Uint8Array(data.length);
  for (let v = 0; v < height; v++) rows.set(once(data, 1, width, v * width), v * width);
  const both = new Uint8Array(data.length);
  for (let u = 0; u < width; u++) {
    once(rows, width, height, u).forEach((value, v) => {
      both[v * width + u] = value;
    });
  }
  return { width, height, data: both };
}
