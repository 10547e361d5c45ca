import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { displayFrame } from '../../../src/imaging/index.js';
import { deviationsCsv, type OverlayContent, overlaySvg } from '../../../src/report/index.js';
import { makeMeasurement } from './make-measurement.js';

const CONTENT: OverlayContent = {
  widthPx: 4000,
  heightPx: 3000,
  lines: [
    {
      axis: 'x',
      placement: 0,
      positionMm: 0,
      fromMm: 480,
      toMm: 0,
      points: [
        [500, 500],
        [500, 2500],
      ],
    },
    {
      axis: 'y',
      placement: 0,
      positionMm: 0,
      fromMm: 0,
      toMm: 720,
      points: [
        [500, 2500],
        [3500, 2500],
      ],
    },
  ],
  marks: [
    { axis: 'x', u: 500, v: 1000, normalU: 1, normalV: 0, residualPx: 0.5, used: true },
    { axis: 'x', u: 500, v: 1200, normalU: 1, normalV: 0, residualPx: -0.25, used: true },
    { axis: 'y', u: 900, v: 2500, normalU: 0, normalV: 1, residualPx: 9, used: false },
  ],
  corners: [
    { x: 0, y: 0, u: 500, v: 2500 },
    { x: 720, y: 0, u: 3500, v: 2500 },
    { x: 0, y: 480, u: 500, v: 500 },
    { x: 720, y: 480, u: 3500, v: 500 },
  ],
  caption: 'photo-1.jpg <b> & "c"',
};

const FRAME = displayFrame(CONTENT, 1);

function attribute(element: string, name: string): number {
  return Number(new RegExp(` ${name}="([^"]*)"`).exec(element)?.[1]);
}

function usedBars(svg: string): string[] {
  return svg.match(/<line class="used"[^>]*>/g) ?? [];
}

describe('the overlay drawing', () => {
  const svg = overlaySvg(CONTENT, FRAME);

  it('lengthens each residual by the factor that the legend states', () => {
    const factor = Number(/seen minus computed, (\d+) times enlarged/.exec(svg)?.[1]);
    expect(factor).toBeGreaterThan(1);
    const [first, second] = usedBars(svg) as [string, string];
    // Sensor pixels are shown at half size.
    expect(attribute(first, 'x2') - attribute(first, 'x1')).toBeCloseTo(0.5 * factor * 0.5, 1);
    expect(attribute(second, 'x2') - attribute(second, 'x1')).toBeCloseTo(-0.25 * factor * 0.5, 1);
    // From where it was computed: seen at (500 + 0.5) / 2, the residual less.
    expect(attribute(first, 'x1')).toBeCloseTo((500.5 - 0.5) / 2, 2);
    expect(attribute(first, 'y1')).toBeCloseTo(1000.5 / 2, 2);
  });

  it('chooses the factor from the data, so that bars stay short', () => {
    const coarse = {
      ...CONTENT,
      marks: CONTENT.marks.map((mark) => ({ ...mark, residualPx: 100 * mark.residualPx })),
    };
    const longest = Math.max(
      ...usedBars(overlaySvg(coarse, FRAME)).map((bar) =>
        Math.abs(attribute(bar, 'x2') - attribute(bar, 'x1')),
      ),
    );
    expect(longest).toBeLessThan(FRAME.widthPx / 20);
  });

  it('shows unused marks in another shape, and counts them', () => {
    expect(svg.match(/<circle class="unused"/g)).toHaveLength(1);
    expect(usedBars(svg)).toHaveLength(2);
    expect(svg).toContain('not used (1)');
  });

  it('names the origin and points along X and Y', () => {
    for (const words of ['X0 Y0', 'X+', 'Y+']) expect(svg).toContain(`>${words}</text>`);
  });

  it('escapes the caption', () => {
    expect(svg).toContain('photo-1.jpg &lt;b&gt; &amp; &quot;c&quot;');
    expect(svg).not.toContain('<b>');
  });

  it('is drawn upright in the display, however the sensor lay', async () => {
    for (const orientation of [1, 3, 6, 8] as const) {
      const frame = displayFrame(CONTENT, orientation);
      const turned = overlaySvg(CONTENT, frame);
      expect(turned).toContain(`viewBox="0 0 ${frame.widthPx} ${frame.heightPx}"`);
      expect(turned).not.toContain('transform');
      const { info } = await sharp(Buffer.from(turned)).raw().toBuffer({ resolveWithObject: true });
      expect([info.width, info.height]).toEqual([frame.widthPx, frame.heightPx]);
    }
  });

  it('of a photo without marks or corners still says what it is', () => {
    const bare = overlaySvg({ ...CONTENT, lines: [], marks: [], corners: [] }, FRAME);
    expect(bare).toContain('photo-1.jpg');
    expect(bare).not.toMatch(/NaN|Infinity|undefined/);
    expect(svg).not.toMatch(/NaN|Infinity|undefined/);
  });
});

describe('the table of deviations', () => {
  it('names rungs as such', () => {
    const rung = {
      placement: 0,
      axis: 'x',
      commanded: 12,
      forward: 0.02,
      u: 0.01,
      rung: true,
    } as const;
    expect(deviationsCsv({ deviations: [rung] }).split('\r\n')[1]).toBe('1,x,12,0.02,,0.01,rung');
  });

  it('has a row per line, empty where a direction was not marked', () => {
    expect(deviationsCsv(makeMeasurement()).split('\r\n')).toEqual([
      'placement,axis,commanded_mm,forward_mm,reverse_mm,u_mm,kind',
      '1,x,0,-0.01,0.01,0.01,line',
      '1,x,360,0.46,0.48,0.04,line',
      '1,y,240,-0.09,,0.02,line',
      '',
    ]);
  });
});
