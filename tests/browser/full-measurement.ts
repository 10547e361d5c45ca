/** A measurement made up by hand in which every part of the report has something to show. */

import type {
  DeviationRecord,
  Measurement,
  ResidualRecord,
} from '../../shared/schemas/measurement.js';
import { judge, propose } from '../../src/correction/index.js';
import type { ReportDrift } from '../../src/report/index.js';
import { estimate, makeMeasurement } from '../unit/report/make-measurement.js';

const LINES_X = Array.from({ length: 13 }, (_, i) => 60 * i);
const LINES_Y = Array.from({ length: 9 }, (_, i) => 60 * i);
const SHARE = { camera: 0.6, marks: 0.25, photos: 0.1, evidence: 0.05 };

function line(axis: 'x' | 'y', commanded: number, scale: number, play: number): DeviationRecord {
  const middle = scale * commanded + 0.01 * Math.sin(commanded);
  return {
    placement: 0,
    axis,
    commanded,
    forward: middle - play / 2,
    reverse: middle + play / 2,
    u: 0.004 + 1e-5 * commanded,
  };
}

const curve = (lines: readonly number[], size: number) =>
  lines.map((at, i) => ({
    at,
    value: size * ((i / (lines.length - 1) - 0.5) ** 2 - 1 / 12),
    u: Math.abs(size) / 20,
  }));

const RESIDUALS: ResidualRecord = {
  counts: [1, 2, 5, 14, 30, 60, 95, 118, 119, 93, 61, 29, 13, 6, 2, 0],
  from: -4,
  to: 4,
  map: {
    columns: 12,
    rows: 9,
    u: Array.from({ length: 108 }, (_, k) => (k % 7 === 0 ? null : 0.004 * Math.sin(k))),
    v: Array.from({ length: 108 }, (_, k) => (k % 11 === 0 ? null : 0.003 * Math.cos(k))),
  },
};

/** Days since 1970 of five measurements, and an event among them. */
export const DRIFT_DAYS = [20000, 20030, 20061, 20092, 20120];

/** What a history would tell of that machine. */
export function fullDrift(machine: string): ReportDrift {
  const drift = {
    machine,
    measurements: 5,
    events: 1,
    explanation: { verdict: 'machine' },
  } as ReportDrift['drift'];
  return {
    drift,
    plots: [
      {
        what: 'squareness',
        unit: 'rad',
        shows: 'machine',
        verdict: 'drifts',
        points: DRIFT_DAYS.map((day, i) => ({ day, value: 1e-4 + 3e-5 * i, u: 2e-5 })),
        line: [
          { day: 20000, value: 1e-4 },
          { day: 20120, value: 2.2e-4 },
        ],
        limits: { low: 0.8e-4, high: 2.4e-4, fromDay: 20000 },
        limit: 2e-4,
        breaks: [{ day: 20050, text: machine }],
      },
    ],
  };
}

/** @param machine its name, which may be anything. */
export function fullMeasurement(machine: string): Measurement {
  const base = makeMeasurement();
  const shared = <T extends object>(quantity: T) => ({ ...quantity, share: SHARE });
  const squareness = shared(estimate(0.85e-3, 0.06e-3, 'rad'));
  const ratio = shared(estimate(1.4e-3, 0.05e-3, '1'));
  const measurement: Measurement = {
    ...base,
    machine,
    squareness,
    scale: {
      x: shared(estimate(1.3e-3, 0.22e-3, '1')),
      y: shared(estimate(-0.1e-3, 0.2e-3, '1')),
      ratio,
    },
    straightness: { x: estimate(0.06, 0.01, 'mm'), y: estimate(0.02, 0.01, 'mm') },
    straightnessCurve: { x: curve(LINES_X, 0.24), y: curve(LINES_Y, -0.08) },
    racking: { ...estimate(0.3e-3, 0.1e-3, 'rad/m'), curve: curve(LINES_Y, 1e-4) },
    placements: base.placements.map((one) => ({ ...one, linesAtX: LINES_X, linesAtY: LINES_Y })),
    photos: base.photos.map((photo, i) => (i === 0 ? { ...photo, residuals: RESIDUALS } : photo)),
    deviations: [
      ...LINES_X.map((at) => line('x', at, 1.3e-3, 0.02)),
      ...LINES_Y.map((at) => line('y', at, -0.1e-3, 0.14)),
      { placement: 0, axis: 'x', commanded: 90, forward: 0.12, u: 0.01, rung: true },
    ],
    methods: [
      { method: 'turned board', used: true, squareness, ratio },
      {
        method: 'photos',
        used: false,
        squareness: estimate(0.9e-3, 0.15e-3, 'rad'),
        ratio: estimate(1.3e-3, 0.15e-3, '1'),
      },
    ],
    findings: [
      ...base.findings,
      { code: 'MACHINE_NAMED', message: `the machine is called ${machine}`, where: machine },
    ],
  };
  const verdicts = judge(measurement, undefined);
  return { ...measurement, verdicts, proposals: propose(measurement, undefined, undefined) };
}
