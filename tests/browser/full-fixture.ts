/** The result of looking at a fixture, made up by hand, in which every part of its report has something to show. */

import {
  FIXTURE_SCHEMA_ID,
  type FixtureFeatureRecord,
  type FixtureResult,
} from '../../shared/schemas/fixture.js';

const estimate = (value: number, U: number, unit: 'mm' | 'rad' | '1' = 'mm') => ({
  value,
  unit,
  u: U / 2,
  k: 2 as const,
  U,
});

const position = (
  dx: number,
  dy: number,
  U: number,
  verdict?: 'inside' | 'outside' | 'cannot tell',
) => ({
  deviation: estimate(2 * Math.hypot(dx, dy), U),
  dx,
  dy,
  ...(verdict === undefined ? {} : { verdict }),
});

/** @param name of the fixture, its files and its first feature, which may be anything. */
export function fullFixture(name: string): FixtureResult {
  const hole = (
    called: string,
    x: number,
    y: number,
    off: readonly [number, number],
    left: readonly [number, number],
    verdict?: 'inside' | 'outside' | 'cannot tell',
  ): FixtureFeatureRecord => ({
    name: called,
    kind: 'hole',
    nominal: { x, y },
    scatter: 0.02,
    state: 'found',
    photos: [`${name}.jpg`],
    height: { value: 0, u: 0, known: true },
    diameter: estimate(8.01, 0.02),
    machine: { x: x + off[0], y: y + off[1], ux: 0.01, uy: 0.012 },
    board: { x: x + off[0], y: y + off[1], ux: 0.01, uy: 0.012 },
    ...(verdict === undefined ? {} : { tolerance: 0.3 }),
    asPlaced: position(off[0], off[1], 0.04),
    asUsed: position(left[0], left[1], 0.05, verdict),
    asBuilt: position(left[0] / 2, left[1] / 2, 0.05, verdict),
  });
  return {
    schema: FIXTURE_SCHEMA_ID,
    tool: { name: 'gantrue', version: '0.1.0' },
    measuredAt: '2026-11-21T09:00:00.000Z',
    layout: {
      file: `${name}.yaml`,
      sha256: 'a'.repeat(64),
      name,
      features: 7,
      clearance: 0.05,
      search: 3,
    },
    machine: {
      from: 'measurement',
      file: `${name}.json`,
      sha256: 'b'.repeat(64),
      scaleX: 1.3e-3,
      scaleY: -0.1e-3,
      squareness: 0.85e-3,
      scaleKnown: false,
    },
    photos: [
      { file: `${name}.jpg`, sha256: 'c'.repeat(64), used: true, overlay: 'fixture-a.jpg' },
      { file: 'b.jpg', used: false, code: 'PHOTO_BLURRED', reason: name },
    ],
    features: [
      hole(name, 100, 50, [0.5, -0.3], [0.02, 0.01], 'inside'),
      { ...hole('B', 400, 50, [0.52, 0.3], [-0.03, 0.02], 'inside'), role: 'slotted' },
      hole('C', 100, 250, [0.1, -0.28], [0.1, -0.11], 'cannot tell'),
      {
        ...hole('D', 400, 250, [0.82, 0.32], [0.7, 0.02], 'outside'),
        apart: { chiSquared: 200, freedom: 2, probability: 1e-40, dx: 0.69, dy: 0.02 },
      },
      hole('E', 250, 150, [0.3, 0.05], [0.01, -0.02]),
      {
        ...hole('fence', 250, 20, [0, -0.06], [0, 0.04], 'inside'),
        kind: 'edge',
        from: { x: 80, y: 20 },
        to: { x: 420, y: 20 },
      },
      {
        name: 'G',
        kind: 'pin',
        nominal: { x: 250, y: 230 },
        scatter: 0.02,
        state: 'covered',
        reason: name,
      },
    ],
    inMachine: {
      offset: { x: estimate(0.41, 0.02), y: estimate(-0.01, 0.02) },
      at: { x: 250, y: 150 },
      rotation: estimate(2e-3, 0.1e-3, 'rad'),
      overLength: { length: 300, along: 'x', value: 0.6, U: 0.03 },
      chiSquared: 9,
      freedom: 7,
    },
    onBoard: {
      offset: { x: estimate(0.6, 0.02), y: estimate(-0.4, 0.02) },
      at: { x: 250, y: 150 },
      rotation: estimate(2e-3, 0.1e-3, 'rad'),
      overLength: { length: 300, along: 'x', value: 0.6, U: 0.03 },
      chiSquared: 25,
      freedom: 7,
      widened: 1.9,
    },
    correction: {
      leaveAlone: false,
      why: 'it sits askew',
      workOffset: { x: estimate(0.7, 0.03), y: estimate(-0.5, 0.03) },
      rotationDegrees: { value: 0.115, U: 0.006 },
      offsetAlone: { x: 0.41, y: -0.01 },
      shim: { thickness: 0.6, U: 0.03, end: '+X', toward: '−Y', offsetLeft: { x: 0.1, y: -0.2 } },
    },
    causes: [
      {
        placement: 'shifted and rotated',
        shape: 'one feature off',
        feature: 'D',
        chiSquared: 8.2,
        parameters: 5,
        freedom: 7,
        logLikelihood: 20,
        share: 0.97,
      },
      {
        placement: 'shifted and rotated',
        shape: 'stretched',
        chiSquared: 120.4,
        parameters: 5,
        freedom: 7,
        logLikelihood: -30,
        share: 0.03,
      },
    ],
    cause: {
      placement: { named: 'shifted and rotated', share: 1 },
      shape: { named: 'one feature off', share: 0.97 },
      feature: 'D',
      which: 'one feature',
    },
    findings: [{ code: 'FEATURE_UNSEEN', message: name, hint: name, where: name }],
    cautions: [name, 'switch the rotation off before homing'],
  };
}
