/** What is out of tolerance, worked by hand. */
import { describe, expect, it } from 'vitest';
import type { Measurement, VerdictRecord } from '../../../shared/schemas/measurement.js';
import { displayFrame } from '../../../src/imaging/index.js';
import {
  type OverlayContent,
  outsideMarks,
  overlaySvg,
  reportHtml,
} from '../../../src/report/index.js';
import { estimate, makeMeasurement } from './make-measurement.js';
import { readRows } from './read-chart.js';

const verdict = (
  what: string,
  limit: number,
  word: VerdictRecord['verdict'],
  unit: VerdictRecord['unit'] = 'mm',
): VerdictRecord => ({ what, limit, unit, verdict: word, why: '' });

/** Scale X + 1.3 mm/m with limit 0.2; lost motion Y 0.14 with limit 0.05; X bends by 0.2, limit 0.1. */
const measurement: Measurement = makeMeasurement({
  scale: {
    x: estimate(1.3e-3, 0.2e-3, '1'),
    y: estimate(-0.1e-3, 0.06e-3, '1'),
    ratio: estimate(1.4e-3, 0.02e-3, '1'),
  },
  deviations: [
    // At the zero there is nothing that a scale could do.
    { placement: 0, axis: 'x', commanded: 0, forward: 0.1, reverse: 0.12, u: 0.001 },
    // 0.39 − 2 × 0.02 > 0.2 × 0.3.
    { placement: 0, axis: 'x', commanded: 300, forward: 0.38, reverse: 0.4, u: 0.02 },
    // 0.65 − 2 × 0.3 < 0.2 × 0.5: it may be inside.
    { placement: 0, axis: 'x', commanded: 500, forward: 0.64, reverse: 0.66, u: 0.3 },
    // The other way round than the scale: no part of it.
    { placement: 0, axis: 'x', commanded: 600, forward: -0.9, reverse: -0.9, u: 0.01 },
    // 0.14 − 2 × 0.01 > 0.05.
    {
      placement: 0,
      axis: 'y',
      commanded: 0,
      forward: -0.07,
      reverse: 0.07,
      u: 0.3,
      uReversal: 0.01,
    },
    // 0.06 − 2 × 0.01 < 0.05.
    {
      placement: 0,
      axis: 'y',
      commanded: 200,
      forward: 0,
      reverse: 0.06,
      u: 0.01,
      uReversal: 0.01,
    },
    // Without its own figure √2 u is taken: 0.09 − 2.83 × 0.02 < 0.05.
    { placement: 0, axis: 'y', commanded: 300, forward: 0, reverse: 0.09, u: 0.02 },
    // From one side alone, and a rung: nothing is told.
    { placement: 0, axis: 'y', commanded: 400, forward: 0.5, u: 0.01 },
    { placement: 0, axis: 'y', commanded: 450, forward: 0, reverse: 0.5, u: 0.01, rung: true },
  ],
  straightness: { x: estimate(0.2, 0.02, 'mm'), y: estimate(0.012, 0.01, 'mm') },
  straightnessCurve: {
    x: [
      // Halfway between the farthest strays lies 0.05; 0.05 to either side is allowed.
      { at: 0, value: -0.05, u: 0.01 },
      { at: 300, value: 0.15, u: 0.01 },
      { at: 400, value: 0.11, u: 0.01 },
      { at: 600, value: 0.07, u: 0.001 },
    ],
    y: [
      { at: 0, value: 0.006, u: 0.004 },
      { at: 480, value: -0.006, u: 0.004 },
    ],
  },
  verdicts: [
    verdict('squareness', 0.2, 'outside', 'mm/m'),
    verdict('scale.x', 0.2, 'outside', 'mm/m'),
    verdict('scale.y', 0.2, 'inside', 'mm/m'),
    verdict('lostMotion.x', 0.05, 'inside'),
    verdict('lostMotion.y', 0.05, 'outside'),
    verdict('straightness.x', 0.1, 'outside'),
    verdict('straightness.y', 0.1, 'inside'),
  ],
});
const outside = outsideMarks(measurement);

describe('what is out of tolerance', () => {
  it('is what exceeds its limit by more than its uncertainty, and nothing else', () => {
    expect(outside.marks.map(({ number, kind, axis, atMm }) => [number, kind, axis, atMm])).toEqual(
      [
        [1, 'place', 'x', 300],
        [2, 'bend', 'x', 0],
        [3, 'bend', 'x', 300],
        [4, 'lost motion', 'y', 0],
      ],
    );
    const [place, , bend, lost] = outside.marks;
    expect(place!.valueMm).toBeCloseTo(0.39, 12);
    expect(place!.allowedMm).toBeCloseTo(0.06, 12);
    expect(bend!.valueMm).toBeCloseTo(0.1, 12);
    expect(bend!.allowedMm).toBe(0.05);
    expect(lost!.valueMm).toBeCloseTo(0.14, 12);
    expect(lost!.UMm).toBeCloseTo(0.02, 12);
  });

  it('names quantities that no line shows by itself', () => {
    expect(outside.elsewhere).toEqual(['squareness']);
  });

  it('is not told of quantities that are only weakly known', () => {
    const weak = { ...estimate(0.2, 0.02, 'mm'), state: 'weak' as const };
    const { marks } = outsideMarks({
      ...measurement,
      straightness: { ...measurement.straightness, x: weak },
      lostMotion: { x: weak, y: weak },
      scale: { ...measurement.scale, x: { ...estimate(1.3e-3, 1e-3, '1'), state: 'weak' } },
    });
    expect(marks).toEqual([]);
  });
});

describe('the report on what is out of tolerance', () => {
  const part = (changes: Partial<Measurement>) => {
    const html = reportHtml({ ...measurement, ...changes }, []);
    const from = html.indexOf('<h2>Out of tolerance');
    return html.slice(from, html.indexOf('</section>', from));
  };

  it('lists it as text, with the shape and number that the pictures show', () => {
    const text = part({});
    expect(text).toContain(
      'lost motion of lines at constant Y: 1 outside (square 4 in the pictures)',
    );
    expect(text).toContain(
      'bend of X motion, toward +Y: 2 outside (diamond 2 to 3 in the pictures)',
    );
    expect(text).toContain('squareness: it concerns every crossing');
    expect(readRows(text, 'Out of tolerance, line by line')).toContainEqual([
      'triangle 1',
      'place of lines at constant X, from the commanded zero',
      'X 300 mm',
      '+0.390 ± 0.040 mm',
      '± 0.060 mm',
    ]);
  });

  it('does not speak of pictures where there are none', () => {
    const text = part({ photos: [] });
    expect(text).toContain('lost motion of lines at constant Y: 1 outside (square 4)');
    expect(text).not.toContain('picture');
  });

  it('says where no limit is stated, and where nothing is outside', () => {
    expect(part({ verdicts: [] })).toContain('No limit is stated');
    expect(
      part({
        verdicts: measurement.verdicts.map((one) => ({ ...one, limit: 99, verdict: 'inside' })),
      }),
    ).toContain('Nothing is told to be outside the limits');
  });
});

const WIDE = { widthPx: 2000, heightPx: 1500 };
/** One millimetre is two pixels; Y upwards. */
const seen = (x: number, y: number) => [200 + 2 * x, 1200 - 2 * y] as const;
const straight = (axis: 'x' | 'y', positionMm: number, toMm: number) => ({
  axis,
  placement: 0,
  positionMm,
  fromMm: 0,
  toMm,
  points: [0, 0.5, 1].map((share) =>
    axis === 'x' ? seen(positionMm, share * toMm) : seen(share * toMm, positionMm),
  ),
});
const content: OverlayContent = {
  ...WIDE,
  lines: [
    ...[0, 300, 600].map((at) => straight('x', at, 500)),
    ...[0, 200, 400].map((at) => straight('y', at, 600)),
  ],
  marks: [],
  corners: [
    { x: 0, y: 0, u: 200, v: 1200 },
    { x: 600, y: 0, u: 1400, v: 1200 },
    { x: 600, y: 400, u: 1400, v: 400 },
    { x: 0, y: 400, u: 200, v: 400 },
  ],
  caption: 'photo.jpg',
};

describe('the overlay of what is out of tolerance', () => {
  const svg = overlaySvg(content, displayFrame(WIDE, 1), outside);
  const signs = [
    ...svg.matchAll(/<polygon class="sign ([a-z-]+)" points="([^"]+)"[^>]*\/><text[^>]*>(\d+)</g),
  ].map(([, kind, points, number]) => {
    const corners = points!.split(' ').map((one) => one.split(',').map(Number));
    const xs = corners.map(([x]) => x!);
    return {
      kind,
      number: Number(number),
      corners: corners.length,
      x: (Math.min(...xs) + Math.max(...xs)) / 2,
      low: Math.min(...corners.map(([, y]) => y!)),
    };
  });

  it('has a sign for each line and place, told apart by shape and number', () => {
    expect(signs.map(({ kind, number, corners }) => [kind, number, corners])).toEqual([
      ['place', 1, 3],
      ['bend', 2, 4],
      ['bend', 3, 4],
      ['lost-motion', 4, 4],
    ]);
  });

  it('puts it at the end of its line, or at its place of the travel', () => {
    const at = (number: number) => signs.find((one) => one.number === number)!;
    // Pixels count from their centres, the drawing from the edge.
    expect(at(1).x).toBeCloseTo(200 + 2 * 300 + 0.5, 1);
    expect(at(1).low).toBeLessThan(1200 - 2 * 500);
    expect(at(3).x).toBeCloseTo(200 + 2 * 300 + 0.5, 1);
    expect(at(2).x).toBeCloseTo(200.5, 1);
    expect(at(4).x).toBeLessThan(200);
  });

  it('dashes the lines, and explains each sign in the legend', () => {
    expect(svg.match(/<polyline class="line-x"[^>]*stroke-dasharray/g)).toHaveLength(1);
    expect(svg.match(/<polyline class="line-y"[^>]*stroke-dasharray/g)).toHaveLength(1);
    for (const words of [
      'out of tolerance: squareness, scale X, lost motion Y, straightness X',
      'lost motion of a line (1)',
      'line off its place (1)',
      'bend of a travel (2)',
      'numbers as in the report',
      'squareness OUTSIDE',
    ]) {
      expect(svg).toContain(words);
    }
  });

  it('says where nothing is outside, where no limit is stated, and nothing where nothing was measured', () => {
    const draw = (one?: typeof outside) => overlaySvg(content, displayFrame(WIDE, 1), one);
    expect(draw({ isJudged: true, marks: [], elsewhere: [], outside: [] })).toContain(
      'nothing is told to be out of tolerance',
    );
    expect(draw({ isJudged: false, marks: [], elsewhere: [], outside: [] })).toContain(
      'no limit is stated: nothing is judged',
    );
    expect(draw()).not.toContain('tolerance');
  });

  it('keeps every sign in the picture, also where the line runs out of it', () => {
    const shifted = {
      ...content,
      lines: content.lines.map((line) => ({
        ...line,
        points: line.points.map(([u, v]) => [u - 250, v - 350] as const),
      })),
    };
    const drawn = overlaySvg(shifted, displayFrame(WIDE, 1), outside);
    const all = [...drawn.matchAll(/<polygon class="sign [a-z-]+" points="([^"]+)"[^>]*\/><text/g)];
    expect(all.length).toBeGreaterThan(0);
    for (const [, points] of all) {
      for (const pair of points!.split(' ')) {
        const [x, y] = pair.split(',').map(Number);
        expect(x).toBeGreaterThan(0);
        expect(y).toBeGreaterThan(0);
      }
    }
  });
});
