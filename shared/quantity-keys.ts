/** Of the machine alone, in the order in which they are shown. */
export const MACHINE_KEYS = [
  'squareness',
  'scale.x',
  'scale.y',
  'scale.ratio',
  'lostMotion.x',
  'lostMotion.y',
  'straightness.x',
  'straightness.y',
  'racking',
] as const;

/** What may be followed over the years: all but the creep of one marking. */
export const TREND_KEYS = [...MACHINE_KEYS, 'periodic.x', 'periodic.y'] as const;

/** Names of quantities as in the verdicts of a measurement. */
export const QUANTITY_KEYS = [...TREND_KEYS, 'drift.x', 'drift.y'] as const;

export type MachineKey = (typeof MACHINE_KEYS)[number];
export type QuantityKey = (typeof QUANTITY_KEYS)[number];

/** The unit in which files hold each. */
export const QUANTITY_UNIT = {
  squareness: 'rad',
  'scale.x': '1',
  'scale.y': '1',
  'scale.ratio': '1',
  'lostMotion.x': 'mm',
  'lostMotion.y': 'mm',
  'straightness.x': 'mm',
  'straightness.y': 'mm',
  racking: 'rad/m',
  'periodic.x': 'mm',
  'periodic.y': 'mm',
  'drift.x': 'mm',
  'drift.y': 'mm',
} as const satisfies Record<QuantityKey, string>;
