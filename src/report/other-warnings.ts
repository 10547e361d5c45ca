/** Warnings that are not cautions for a proposal: those are shown beside the proposals already. */

import type { Measurement } from '../../shared/schemas/measurement.js';
import { cautions } from '../correction/index.js';

export function otherWarnings({
  warnings,
  proposals,
}: Pick<Measurement, 'warnings' | 'proposals'>): string[] {
  const shown = new Set(cautions(proposals));
  return warnings.filter((warning) => !shown.has(warning));
}
