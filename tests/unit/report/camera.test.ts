import { describe, expect, it } from 'vitest';
import type { Measurement } from '../../../shared/schemas/measurement.js';
import { reportHtml, summaryText } from '../../../src/report/index.js';
import { makeMeasurement } from './make-measurement.js';

const [CAMERA] = makeMeasurement().camera as [Measurement['camera'][number]];
const HELD = { value: 0, u: 0 };

/** As `--known-grid --camera-terms f,cu,cv,k1` leaves it. */
function calibrated(changes: Partial<Measurement> = {}): Measurement {
  const base = makeMeasurement();
  const { make: _, model: __, ...unnamed } = CAMERA;
  return {
    ...base,
    camera: [
      {
        ...unnamed,
        f: { value: 832.531, u: 1.38 },
        cx: { value: 303.959, u: 0.71 },
        cy: { value: 206.585, u: 0.66 },
        k1: { value: -0.22861, u: 0.0041 },
        ...{ k2: HELD, k3: HELD, p1: HELD, p2: HELD, aspect: HELD, skew: HELD },
        distortionCentreX: { value: 303.959, u: 0.71 },
        distortionCentreY: { value: 206.585, u: 0.66 },
      },
    ],
    adjustment: {
      ...base.adjustment!,
      sigmaMark: 0,
      knownGrid: true,
      cameraTerms: ['f', 'cu', 'cv', 'k1'],
    },
    imagePoints: { file: 'p<1>.csv', sha256: '0', points: 1280, outliers: 2 },
    verdicts: [],
    proposals: [],
    ...changes,
  };
}

describe('a camera that was measured by a known grid', () => {
  it('is what the summary shows, with U, instead of the machine', () => {
    const text = summaryText(calibrated(), { units: 'mm', colour: false, width: 90 });
    expect(text).toMatch(/^camera: measured by a grid that was taken for true/);
    // U = 2 u to two digits, the value to the same place (GUM 7.2.6).
    expect(text).toMatch(/principal distance f +832\.5 ± 2\.8 px\n/);
    expect(text).toMatch(/principal point x +304\.0 ± 1\.4 px\n/);
    expect(text).toMatch(/k1 +−0\.2286 ± 0\.0082\n/);
    expect(text).toMatch(/p1 +held at 0\n/);
    expect(text).not.toContain('distortion centre');
    expect(text).not.toContain('squareness');
    expect(text).toContain('1280 points found in photos by other software (p<1>.csv), 2 left out');
  });

  it('comes first in the report, which says what was taken for true', () => {
    const html = reportHtml(calibrated(), []);
    expect(html).toMatch(
      /<h1>Camera, 2026-11-20<\/h1>\s*<p class="verdict">The camera was measured by a grid[^<]*<\/p>\s*<section><h2>Camera<\/h2>/,
    );
    expect(html.match(/<h2>Camera<\/h2>/g)).toHaveLength(1);
    expect(html).toContain('832.5 ± 2.8 px');
    expect(html).toContain('taken to lie where they were commanded');
    expect(html).toContain('f, cu, cv, k1');
    expect(html).toContain('p&lt;1&gt;.csv');
    expect(html).not.toContain('What was measured');
  });

  it('that is all adjusted has its distortion centre listed', () => {
    const html = reportHtml(makeMeasurement(), []);
    expect(html).toContain('distortion centre x');
    expect(html).not.toContain('held at');
  });
});
