/** A measurement in one paragraph: what could be told, and whether it is within its limits. */

import type { Measurement } from '../../shared/schemas/measurement.js';
import { describeQuantities, type QuantityText } from './describe-quantity.js';
import { makePage, type SummaryOptions } from './terminal-page.js';
import { wrapText } from './wrap-text.js';

/** Beyond its limit in capitals, as in the summary: not by colour alone. */
const VERDICT: Record<NonNullable<QuantityText['verdict']>, string> = {
  inside: ' inside',
  outside: ' OUTSIDE',
  'cannot tell': ' cannot tell',
};

/** @param only keys of the quantities to be told; all where absent. */
export function briefText(
  measurement: Measurement,
  options: SummaryOptions,
  only?: readonly string[],
): string {
  const { width, units } = makePage(options);
  const told = describeQuantities(measurement, units).flatMap(
    ({ key, name, state, value = 'undetermined', verdict }) => {
      // Who asks for a quantity wants to know that nothing tells it.
      const isTold = only === undefined ? state !== 'undetermined' : only.includes(key);
      const weak = state === 'weak' ? 'weak: ' : '';
      const judged = verdict === undefined ? '' : VERDICT[verdict];
      return isTold ? [`${name} ${weak}${value}${judged}`] : [];
    },
  );
  const used = measurement.photos.filter((photo) => photo.used).length;
  const photos =
    measurement.photos.length === 0 ? [] : [`${used} of ${measurement.photos.length} photos`];
  const [method] = measurement.methods ?? [];
  const way = method?.method === 'turned board' ? ' (turned board)' : '';
  const parts = told.length === 0 ? ['nothing could be told'] : told;
  const text = `${measurement.machine ?? 'machine'}${way}: ${[...parts, ...photos].join('; ')}`;
  return `${wrapText(text, width).join('\n')}\n`;
}
