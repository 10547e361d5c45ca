/** A saved measurement. */

import { createHash } from 'node:crypto';
import { stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import {
  MEASUREMENT_SCHEMA_ID,
  type Measurement,
  measurementSchema,
} from '../../shared/schemas/measurement.js';
import { readLimited } from '../imaging/index.js';
import { failedRead, type Outcome, success } from '../quantity/index.js';
import { finishInterrupted } from './output-folder.js';
import { MOST_RECORD_BYTES, parseRecord, type RecordKind } from './parse-record.js';

export interface SavedMeasurement {
  readonly measurement: Measurement;
  /** The file itself, where a folder was named. */
  readonly file: string;
  /** Of the file, hexadecimal. */
  readonly sha256: string;
}

const KIND: RecordKind<Measurement> = {
  id: MEASUREMENT_SCHEMA_ID,
  schema: measurementSchema,
  code: 'MEASUREMENT_INVALID',
  complaint: 'this is no saved measurement',
  hint: 'give the measurement.json that a measurement wrote',
};

/**
 * Reads `measurement.json`; the folder that holds it will do.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; MEASUREMENT_INVALID.
 */
export async function readMeasurement(path: string): Promise<Outcome<SavedMeasurement>> {
  const found = await readRecordText(path, PLACE);
  if (!found.ok) return found;
  const { text, file } = found.value;
  const parsed = parseRecord(text, file, KIND);
  if (!parsed.ok) return parsed;
  const sha256 = createHash('sha256').update(text!, 'utf8').digest('hex');
  return success({ measurement: parsed.value, file, sha256 });
}

/** What a record is called by itself, and what to give where there is none. */
export interface RecordPlace {
  readonly name: string;
  readonly what: string;
  readonly missingHint: string;
}

const PLACE: RecordPlace = {
  name: 'measurement.json',
  what: 'measurement',
  missingHint: 'give the measurement.json that a measurement wrote, or its folder',
};

/**
 * The text of a record, or of the one in a folder; undefined where it is too long.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE.
 */
export async function readRecordText(
  path: string,
  { name, what, missingHint }: RecordPlace,
): Promise<Outcome<{ text: string | undefined; file: string }>> {
  let file = path;
  try {
    if ((await stat(path)).isDirectory()) file = join(path, name);
    // Where the folder cannot be written to, it is read as it is.
    await finishInterrupted(dirname(file)).catch(() => undefined);
    return success({ text: (await readLimited(file, MOST_RECORD_BYTES))?.toString('utf8'), file });
  } catch (cause) {
    return failedRead(cause, file, { what, missingHint });
  }
}
