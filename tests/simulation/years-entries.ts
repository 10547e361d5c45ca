/** Simulated rows as whole entries, to be added to a history. */

import type { MeasurementEntry } from '../../shared/schemas/history.js';
import type { Measurement, Quantity } from '../../shared/schemas/measurement.js';
import type { MeasurementRow, QuantityName, StoredQuantity } from '../../src/history/index.js';
import { makeMeasurement } from '../unit/report/make-measurement.js';

export function entryOfRow(row: MeasurementRow, measurement = makeMeasurement()): MeasurementEntry {
  const { id, kind, quantities, ...told } = row;
  const told12 = id.toString(16).padStart(12, '0');
  return {
    kind: 'measurement',
    uid: `${hash(row.machine).toString(16).padStart(20, '0')}${told12}`,
    addedAt: row.at,
    ...told,
    ...(told.settings === undefined ? {} : { settings: { ...told.settings } }),
    measurement: withQuantities(measurement, quantities),
  } as MeasurementEntry;
}

/** FNV-1a, 32 bit. */
function hash(text: string): number {
  let state = 0x811c9dc5;
  for (const character of text) {
    state = Math.imul(state ^ character.codePointAt(0)!, 0x01000193) >>> 0;
  }
  return state;
}

function withQuantities(
  measurement: Measurement,
  stored: MeasurementRow['quantities'],
): Measurement {
  const get = (name: QuantityName, unit: 'rad' | '1' | 'mm' | 'rad/m') => whole(stored[name], unit);
  return {
    ...measurement,
    squareness: get('squareness', 'rad'),
    scale: {
      x: get('scale.x', '1'),
      y: get('scale.y', '1'),
      ratio: get('scale.ratio', '1'),
    },
    lostMotion: { x: get('lostMotion.x', 'mm'), y: get('lostMotion.y', 'mm') },
    straightness: { x: get('straightness.x', 'mm'), y: get('straightness.y', 'mm') },
    racking: get('racking', 'rad/m'),
  };
}

function whole(stored: StoredQuantity | undefined, unit: 'rad' | '1' | 'mm' | 'rad/m'): Quantity {
  if (stored === undefined || stored.state === 'undetermined') {
    return { state: 'undetermined', reason: 'not simulated', add: [] };
  }
  return { ...stored, unit, k: 2, U: 2 * stored.u };
}
