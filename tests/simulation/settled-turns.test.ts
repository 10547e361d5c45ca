/** Plain grids that look the same upside down: photos find their turn against each other. */
import { describe, expect, it } from 'vitest';
import type { MeasuredMarks } from '../../src/marks/index.js';
import { cutStrokes, describeGrid, latticeProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';
import type { ExaminedPhoto } from '../../src/survey/examine-photo.js';
import { settleTurns } from '../../src/survey/settle-turns.js';
import { simulateNetwork } from './simulated-network.js';

const strokes = unwrap(latticeProgram('25x17,30,30'));
const grid = unwrap(describeGrid(strokes));
const { segments } = cutStrokes(strokes, grid);
const [WIDTH, HEIGHT] = [720, 480];

/** The segment that lies where this one would after a half turn of the grid. */
const opposite = segments.map((segment) => {
  const middle = (s: typeof segment) => [
    (s.fromMm[0] + s.toMm[0]) / 2,
    (s.fromMm[1] + s.toMm[1]) / 2,
  ];
  const [x, y] = middle(segment);
  return segments.findIndex((other) => {
    const [ox, oy] = middle(other);
    return other.axis === segment.axis && Math.hypot(WIDTH - x - ox, HEIGHT - y - oy) < 1e-6;
  });
});

/** Photos of one board; those listed were read upside down first. */
function photosOf(upsideDown: readonly number[], certain: readonly number[] = []): ExaminedPhoto[] {
  const { input } = simulateNetwork({
    seed: 21,
    strokes,
    sigmaPx: 0.03,
    sigmaMarkMm: 0.012,
    focalKnown: true,
    taped: false,
    photos: [0, 1, 2, 3],
  });
  return input.photos.map((photo, i) => {
    const upright = input.observations
      .filter((o) => o.photo === i)
      .map((o) => ({
        segmentId: segments[o.segment].id,
        xMm: input.segments[o.segment].xMm,
        yMm: input.segments[o.segment].yMm,
        uPx: o.uPx,
        vPx: o.vPx,
        normalU: o.normalU,
        normalV: o.normalV,
        sigmaPx: o.sigmaPx,
      }));
    const h = Array.from(photo.homography);
    // H after a half turn: (x, y) ↦ (W - x, H - y).
    const turned = [0, 3, 6].flatMap((k) => [
      -h[k],
      -h[k + 1],
      h[k] * WIDTH + h[k + 1] * HEIGHT + h[k + 2],
    ]);
    const marks = (half: boolean): MeasuredMarks => ({
      observations: upright.map((o) => {
        if (!half) return o;
        const at = segments.findIndex((s) => s.id === o.segmentId);
        return {
          ...o,
          segmentId: segments[opposite[at]].id,
          xMm: WIDTH - o.xMm,
          yMm: HEIGHT - o.yMm,
          normalU: -o.normalU,
          normalV: -o.normalV,
        };
      }),
      map: { ...photo, homography: Float64Array.from(half ? turned : h) },
      families: [],
      predicted: upright.length,
      rejected: { covered: 0, unlike: 0, outlying: 0 },
      scatterPx: 0.05,
    });
    const readings = (upsideDown.includes(i) ? [true, false] : [false, true]).map((half, k) => ({
      turnDeg: k === 0 ? (0 as const) : (180 as const),
      marks: marks(half),
    }));
    const known = certain.includes(i);
    return {
      photo: {
        file: `p${i}.jpg`,
        name: `p${i}.jpg`,
        sha256: String(i),
        format: 'jpeg',
        widthPx: 4000,
        heightPx: 3000,
        exif: { orientation: 1 },
      },
      readings: known ? readings.slice(0, 1) : readings,
      marks: readings[0].marks,
      certain: known,
    };
  });
}

/** Whether each photo's marks stand as on the board: there the first observation is of the first segment. */
function uprightness(photos: readonly ExaminedPhoto[]): boolean[] {
  return photos.map(({ marks }) => marks.observations[0].segmentId === segments[0].id);
}

describe('a plain oblong grid in four photos', () => {
  it('all are brought the same way round, and the half turn of the whole stays open', () => {
    const settled = settleTurns(photosOf([1, 3]), segments);
    expect(settled.orientation).toBe('half turn');
    expect(new Set(uprightness(settled.photos)).size).toBe(1);
  });

  it('one photo that shows the origin mark settles all', () => {
    const settled = settleTurns(photosOf([0, 3], [1]), segments);
    expect(settled.orientation).toBe('known');
    expect(settled.unsettled).toEqual([]);
    expect(uprightness(settled.photos)).toEqual([true, true, true, true]);
  });

  it('people are believed, but not about the one picture that its marks contradict', () => {
    const photos = photosOf([2]).map((photo, i) => ({
      ...photo,
      // Reading 1 of photo 2 is the upright one; of photo 3 the upright one is 0, yet 1 was said.
      suggested: i === 2 || i === 3 ? 1 : 0,
    }));
    const settled = settleTurns(photos, segments);
    expect(settled.orientation).toBe('known');
    expect(uprightness(settled.photos)).toEqual([true, true, true, true]);
    expect(settled.findings.map(({ code, where }) => [code, where])).toEqual([
      ['ORIGIN_OTHERWISE', 'p3.jpg'],
    ]);
  });
});
