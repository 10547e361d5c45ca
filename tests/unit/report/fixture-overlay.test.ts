import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { displayFrame } from '../../../src/imaging/index.js';
import { type FixtureOverlay, fixtureOverlaySvg } from '../../../src/report/index.js';

const SIZE = { widthPx: 2000, heightPx: 1500 };
const ring = (u: number, v: number) =>
  [0, 1, 2, 3, 0].map(
    (k) => [u + 20 * Math.cos((k * Math.PI) / 2), v + 20 * Math.sin((k * Math.PI) / 2)] as const,
  );

const CONTENT: FixtureOverlay = {
  ...SIZE,
  features: [
    {
      number: 1,
      name: 'A',
      nominal: ring(500, 500),
      found: ring(504, 502),
      left: { from: [503, 502], byPx: [1, 0] },
      isSeen: true,
      verdict: 'inside',
    },
    {
      number: 2,
      name: '<b>',
      nominal: ring(900, 500),
      found: ring(910, 500),
      left: { from: [902, 500], byPx: [8, -4] },
      isSeen: false,
      verdict: 'outside',
    },
    { number: 3, name: 'C', nominal: ring(500, 900), isSeen: false, verdict: undefined },
    {
      number: 4,
      name: 'D',
      nominal: ring(900, 900),
      found: ring(900, 900),
      isSeen: true,
      verdict: 'cannot tell',
    },
  ],
  corners: [],
  caption: 'p & q.jpg',
};

describe('the picture of a fixture', () => {
  const svg = fixtureOverlaySvg(CONTENT, displayFrame(SIZE, 1));

  it('draws what is left by the factor that the legend states', () => {
    const factor = Number(/turn, (\d+) times enlarged/.exec(svg)![1]);
    expect(factor).toBeGreaterThan(1);
    const bars = [
      ...svg.matchAll(
        /<line class="left" x1="([\d.]+)" y1="([\d.]+)" x2="([\d.]+)" y2="([\d.]+)"/g,
      ),
    ].map(([, ...ends]) => ends.map(Number) as [number, number, number, number]);
    expect(bars).toHaveLength(2);
    const [x1, y1, x2, y2] = bars[1]!;
    expect([x1, y1]).toEqual([902.5, 500.5]);
    expect([x2 - x1, y2 - y1]).toEqual([8 * factor, -4 * factor]);
  });

  it('tells by words what is outside, cannot be told, was not found or is not seen here', () => {
    for (const words of [
      '>1 A</text>',
      '>2 &lt;b&gt; OUTSIDE (not seen here)</text>',
      '>3 C not found</text>',
      '>4 D cannot tell</text>',
      'OUTSIDE its tolerance: 1 of 4',
      'p &amp; q.jpg: dashed where the layout has it',
    ]) {
      expect(svg).toContain(words);
    }
    expect(svg.match(/class="unseen"/g)).toHaveLength(1);
    expect(svg.match(/class="nominal"[^>]*stroke-dasharray/g)).toHaveLength(4);
    expect(svg.match(/class="found"/g)).toHaveLength(3);
  });

  it('says where no tolerance is stated', () => {
    const bare = CONTENT.features.map((one) => ({ ...one, verdict: undefined }));
    expect(fixtureOverlaySvg({ ...CONTENT, features: bare }, displayFrame(SIZE, 1))).toContain(
      'no tolerance is stated',
    );
  });

  it('leaves names out where there are too many for them', () => {
    const many = Array.from({ length: 60 }, (_, k) => ({ ...CONTENT.features[0]!, number: k + 1 }));
    const crowded = fixtureOverlaySvg({ ...CONTENT, features: many }, displayFrame(SIZE, 1));
    expect(crowded).toContain('>60</text>');
    expect(crowded).not.toContain('60 A');
  });

  it('is a picture that renders, however the sensor lay', async () => {
    for (const orientation of [1, 6] as const) {
      const frame = displayFrame(SIZE, orientation);
      const { info } = await sharp(Buffer.from(fixtureOverlaySvg(CONTENT, frame)))
        .raw()
        .toBuffer({ resolveWithObject: true });
      expect([info.width, info.height]).toEqual([frame.widthPx, frame.heightPx]);
    }
  });
});
