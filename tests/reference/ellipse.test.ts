/** Round rims against OpenCV's fit of an ellipse to edge points of the same pictures. */

import { describe, expect, it } from 'vitest';
import type { FeatureView } from '../../src/fixture/feature-view.js';
import { findFeature, type LayoutFeature } from '../../src/fixture/index.js';
import { disc, drawView } from '../unit/fixture/draw-features.js';
import { type CvMat, loadOpenCv } from './load-opencv.js';

interface EllipseFitter {
  readonly CV_32FC2: number;
  matFromArray(rows: number, cols: number, type: number, data: ArrayLike<number>): CvMat;
  fitEllipse(points: CvMat): {
    readonly center: { readonly x: number; readonly y: number };
    readonly size: { readonly width: number; readonly height: number };
  };
}

/** Where the grey crosses half way, along the rows and the columns: edge points to a part of a pixel. */
function edgePoints({ image }: FeatureView, threshold: number): number[] {
  const { width, height, data } = image;
  const points: number[] = [];
  for (let v = 1; v < height - 1; v++) {
    for (let u = 1; u < width - 1; u++) {
      const here = data[v * width + u]! - threshold;
      const right = data[v * width + u + 1]! - threshold;
      const below = data[(v + 1) * width + u]! - threshold;
      if (here * right < 0) points.push(u + here / (here - right), v);
      if (here * below < 0) points.push(u, v + here / (here - below));
    }
  }
  return points;
}

function ellipseCentre(cv: EllipseFitter, view: FeatureView, threshold: number) {
  const points = edgePoints(view, threshold);
  const mat = cv.matFromArray(points.length / 2, 1, cv.CV_32FC2, points);
  const { center, size } = cv.fitEllipse(mat);
  mat.delete();
  return { u: center.x, v: center.y, axes: [size.width, size.height] as const };
}

const AT = [0.7, -0.5] as const;
const DIAMETER = 24;
const FEATURE: LayoutFeature = {
  name: 'H',
  kind: 'hole',
  atMm: [0, 0],
  diameterMm: DIAMETER,
  heightMm: 0,
  heightUMm: 0,
  isHeightKnown: true,
  scatterMm: 0.02,
};

function draw(tiltDeg: number) {
  return drawView([disc(AT, DIAMETER, 60)], {
    tiltRad: (tiltDeg * Math.PI) / 180,
    rollRad: 0.4,
    aimMm: [0, 0],
    widthPx: 170,
    heightPx: 170,
    blurPx: 1,
    noise: 2,
    mmPerPx: 0.2,
    // A near camera: perspective within the rim is strong.
    focalPx: 500,
  });
}

function foundAt(view: FeatureView): readonly [number, number] {
  const seen = findFeature(view, FEATURE, 2.5);
  if (seen.state !== 'found') throw new Error(seen.reason);
  return seen.values;
}

describe('a round rim beside OpenCV’s ellipse', () => {
  const cv = loadOpenCv() as unknown as EllipseFitter;

  it('seen from above: both centres agree to a twentieth of a pixel', () => {
    const view = draw(0);
    const ellipse = ellipseCentre(cv, view, 120);
    const [u, v] = view.imageAt(...foundAt(view), 0);
    expect(Math.hypot(u - ellipse.u, v - ellipse.v)).toBeLessThan(0.05);
  });

  it('seen 50° from above: the ellipse’s centre lies pixels away from the circle’s; the rim’s is the circle’s', () => {
    const view = draw(50);
    const truth = view.imageAt(...AT, 0);
    const ellipse = ellipseCentre(cv, view, 120);
    const [u, v] = view.imageAt(...foundAt(view), 0);
    const away = Math.hypot(ellipse.u - truth[0], ellipse.v - truth[1]);
    expect(away).toBeGreaterThan(2);
    expect(Math.hypot(u - truth[0], v - truth[1])).toBeLessThan(0.03);
    // The circle itself, drawn through the projection and fitted by the same library, has its centre where the
    // picture's edge points have theirs: it is perspective, not the fit, that moves it.
    const drawn = Array.from({ length: 200 }, (_, k) => {
      const angle = (2 * Math.PI * k) / 200;
      const radius = DIAMETER / 2;
      return view.imageAt(AT[0] + radius * Math.cos(angle), AT[1] + radius * Math.sin(angle), 0);
    }).flat();
    const mat = cv.matFromArray(200, 1, cv.CV_32FC2, drawn);
    const { center } = cv.fitEllipse(mat);
    mat.delete();
    expect(Math.hypot(center.x - ellipse.u, center.y - ellipse.v)).toBeLessThan(0.1);
    process.stdout.write(
      `50°: ellipse’s centre ${away.toFixed(2)} px off, rim’s ${Math.hypot(u - truth[0], v - truth[1]).toFixed(4)} px\n`,
    );
  });
});
