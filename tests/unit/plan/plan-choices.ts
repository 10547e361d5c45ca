import {
  type GridPlan,
  layOutGrid,
  PLAN_DEFAULTS,
  type PlanChoices,
} from '../../../src/plan/index.js';
import { unwrap } from '../../../src/quantity/index.js';

/** A bench router, marked with a laser. */
export const BENCH: PlanChoices = {
  ...PLAN_DEFAULTS.laser,
  travelMm: [400, 300],
  spacingMm: 50,
  marginMm: 25,
  units: 'mm',
  marking: 'laser',
  depthMm: 0.3,
  bitAngleDeg: 60,
  clearanceMm: 5,
  plungeFeedMmPerMin: 300,
  periodsMm: {},
  cellCodes: false,
  turned: false,
};

export const INSERTS = {
  ...PLAN_DEFAULTS.inserts,
  holeDiameterMm: 8,
  holeDepthMm: 16,
  counterbore: { diameterMm: 14, depthMm: 4 },
} as const;

export function plan(
  choices: Partial<PlanChoices> = {},
  placement?: GridPlan['layout']['placement'],
): GridPlan {
  return unwrap(layOutGrid({ ...BENCH, ...choices }, placement));
}

export function marksOf(one: GridPlan, ...kinds: GridPlan['marks'][number]['kind'][]) {
  return one.marks.filter(({ kind }) => kinds.includes(kind));
}
