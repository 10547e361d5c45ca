/** What each quantity is called, and what kind of number it is. */

import type { ForecastName } from '../../shared/schemas/forecast.js';
import type { Measure } from './show-number.js';

export const QUANTITY_NAME: Record<ForecastName, string> = {
  squareness: 'squareness',
  'scale.x': 'scale X',
  'scale.y': 'scale Y',
  'scale.ratio': 'scale X : Y',
  'lostMotion.x': 'lost motion X',
  'lostMotion.y': 'lost motion Y',
  'straightness.x': 'straightness X',
  'straightness.y': 'straightness Y',
  racking: 'racking',
  'periodic.x': 'periodic X',
  'periodic.y': 'periodic Y',
  'drift.x': 'drift X',
  'drift.y': 'drift Y',
};

export const MEASURE_OF: Record<ForecastName, Measure> = {
  squareness: 'slope',
  'scale.x': 'slope',
  'scale.y': 'slope',
  'scale.ratio': 'slope',
  'lostMotion.x': 'length',
  'lostMotion.y': 'length',
  'straightness.x': 'length',
  'straightness.y': 'length',
  racking: 'slopePerTravel',
  'periodic.x': 'length',
  'periodic.y': 'length',
  'drift.x': 'length',
  'drift.y': 'length',
};
