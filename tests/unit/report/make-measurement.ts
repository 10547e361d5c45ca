/** A measurement made up by hand: a router out of square that travels too far in X. */

import type { Estimate, Measurement, Quantity } from '../../../shared/schemas/measurement.js';
import { MEASUREMENT_SCHEMA_ID } from '../../../shared/schemas/measurement.js';

export function estimate(
  value: number,
  U: number,
  unit: Estimate['unit'],
  more: Partial<Estimate> = {},
): Estimate {
  return { value, unit, u: U / 2, k: 2, U, state: 'measured', ...more };
}

export const UNDETERMINED: Quantity = {
  state: 'undetermined',
  reason: 'no known length: a photo shows shapes, not sizes',
  add: ['tape one distance between two crossings'],
};

export function makeMeasurement(changes: Partial<Measurement> = {}): Measurement {
  return {
    schema: MEASUREMENT_SCHEMA_ID,
    tool: { name: 'gantrue', version: '0.1.0' },
    measuredAt: '2026-11-20T10:30:00.000Z',
    machine: 'Test router',
    gantryAxis: 'y',
    squareness: estimate(0.85e-3, 0.06e-3, 'rad'),
    scale: {
      x: estimate(1.3e-3, 0.22e-3, '1'),
      y: estimate(-0.1e-3, 0.06e-3, '1'),
      ratio: estimate(1.4e-3, 0.02e-3, '1'),
    },
    lostMotion: { x: estimate(0.02, 0.004, 'mm'), y: estimate(0.14, 0.006, 'mm') },
    straightness: { x: estimate(0.062, 0.011, 'mm'), y: estimate(0.012, 0.01, 'mm') },
    straightnessCurve: {
      x: [
        { at: 0, value: 0.03, u: 0.004 },
        { at: 360, value: -0.032, u: 0.004 },
        { at: 720, value: 0.03, u: 0.004 },
      ],
      y: [
        { at: 0, value: 0.006, u: 0.004 },
        { at: 480, value: -0.006, u: 0.004 },
      ],
    },
    racking: { ...estimate(0.02e-3, 0.04e-3, 'rad/m') },
    photos: [
      {
        file: 'photos/photo-1.jpg',
        used: true,
        widthPx: 4000,
        heightPx: 3000,
        takenAt: '2026:11:20 10:02:00',
        camera: 0,
        sharpness: 2.1,
        segmentsFound: 610,
        segmentsPredicted: 640,
        reprojectionRmsPx: 0.12,
        tiltRad: 0.03,
        rollRad: 1.57,
        mmPerPx: 0.21,
        corners: [],
        overlay: 'overlay-photo-1.jpg',
      },
      {
        file: 'photos/photo-2.jpg',
        used: false,
        code: 'PHOTO_BLURRED',
        reason: 'the marks are too blurred to be located',
        hint: 'hold the phone still',
      },
    ],
    camera: [
      {
        make: 'Phone',
        model: 'Main camera',
        widthPx: 4000,
        heightPx: 3000,
        photos: 1,
        focalLengthFrom: 'exif',
        f: { value: 3000, u: 3 },
        cx: { value: 1999, u: 4 },
        cy: { value: 1499, u: 4 },
        k1: { value: 0.02, u: 0.001 },
        k2: { value: -0.001, u: 0.001 },
        k3: { value: 0, u: 0.001 },
        p1: { value: 0, u: 0.0001 },
        p2: { value: 0, u: 0.0001 },
        distortionCentreX: { value: 1999, u: 4 },
        distortionCentreY: { value: 1499, u: 4 },
        aspect: { value: 1, u: 0.0001 },
        skew: { value: 0, u: 0.0001 },
      },
    ],
    placements: [
      {
        program: 'bed-grid.ngc',
        rotation: { value: 0, u: 0 },
        shift: { x: { value: 0, u: 0 }, y: { value: 0, u: 0 } },
        linesAtX: [0, 360, 720],
        linesAtY: [0, 240, 480],
        strokes: 24,
        bothApproaches: { x: true, y: true },
      },
    ],
    adjustment: {
      observations: 610,
      unknowns: 60,
      redundancy: 550,
      varianceFactor: 1.02,
      sigmaPixel: 0.08,
      sigmaMark: 0.021,
      outliers: 3,
      iterations: 6,
      seconds: 2.5,
    },
    deviations: [
      { placement: 0, axis: 'x', commanded: 0, forward: -0.01, reverse: 0.01, u: 0.01 },
      { placement: 0, axis: 'x', commanded: 360, forward: 0.46, reverse: 0.48, u: 0.04 },
      { placement: 0, axis: 'y', commanded: 240, forward: -0.09, u: 0.02 },
    ],
    evidence: [
      { what: 'taped length', given: 721.1, adjusted: 720.97, unit: 'mm', u: 0.2, En: 0.3 },
    ],
    verdicts: [],
    proposals: [],
    findings: [
      {
        code: 'SOME_DOUBT',
        message: 'two pieces of evidence disagree',
        hint: 'tape again',
        where: 'tape',
      },
    ],
    warnings: [],
    ...changes,
  };
}
