/** Names of quantities as in the verdicts of a measurement. */
export const QUANTITY_KEYS = [
  'squareness',
  'scale.x',
  'scale.y',
  'scale.ratio',
  'lostMotion.x',
  'lostMotion.y',
  'straightness.x',
  'straightness.y',
  'racking',
  'periodic.x',
  'periodic.y',
  'drift.x',
  'drift.y',
] as const;
