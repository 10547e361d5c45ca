/** A measurement and what the options say of it → an entry of the history. */

import type { EvidenceFile } from '../shared/schemas/evidence.js';
import type { MeasurementEntry } from '../shared/schemas/history.js';
import type { MachineFile } from '../shared/schemas/machine.js';
import type { Measurement } from '../shared/schemas/measurement.js';
import { makeMeasurementEntry, type Outcome } from '../src/index.js';
import type { CircumstancesOptions } from './circumstances-options.js';
import { parseDate } from './parse-date.js';

export interface LoggedMeasurement {
  readonly measurement: Measurement;
  readonly machine: MachineFile | undefined;
  readonly evidence: EvidenceFile | undefined;
}

/** Fails: WRONG_CALL. */
export function entryOfMeasurement(
  told: LoggedMeasurement,
  options: CircumstancesOptions,
  now: Date,
): Outcome<MeasurementEntry> {
  const at = parseDate(options.date, now);
  if (!at.ok) return at;
  const { machineName, board, boardMaterial, marks, temperature, humidity, hours, notes } = options;
  return makeMeasurementEntry({
    ...told,
    now,
    circumstances: {
      ...(machineName === undefined ? {} : { machineName }),
      ...(at.value === undefined ? {} : { at: at.value }),
      ...(board === undefined ? {} : { boardId: board }),
      ...(boardMaterial === undefined ? {} : { boardMaterial }),
      ...(marks === undefined ? {} : { marks }),
      ...(temperature === undefined ? {} : { temperature }),
      ...(humidity === undefined ? {} : { humidity }),
      ...(hours === undefined ? {} : { hours }),
      ...(notes === undefined ? {} : { notes }),
    },
  });
}
