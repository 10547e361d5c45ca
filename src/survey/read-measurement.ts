/** A saved measurement. */

import { readFile, stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import {
  MEASUREMENT_SCHEMA_ID,
  type Measurement,
  measurementSchema,
} from '../../shared/schemas/measurement.js';
import { failed, failedRead, type Outcome, success } from '../quantity/index.js';
import { finishInterrupted } from './output-folder.js';

export interface SavedMeasurement {
  readonly measurement: Measurement;
  /** The file itself, where a folder was named. */
  readonly file: string;
}

/** More is not said of a damaged file: whoever wrote it by hand needs the first problems only. */
const MOST_PROBLEMS = 5;

/**
 * Reads `measurement.json`; the folder that holds it will do.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; MEASUREMENT_INVALID.
 */
export async function readMeasurement(path: string): Promise<Outcome<SavedMeasurement>> {
  const found = await findText(path);
  if (!found.ok) return found;
  const { text, file } = found.value;
  const refuse = (problems: readonly string[]) =>
    failed('MEASUREMENT_INVALID', ['this is no saved measurement', ...problems].join('\n  '), {
      where: file,
      hint: 'give the measurement.json that a measurement wrote',
    });
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch {
    return refuse(['it is no JSON']);
  }
  const id = (data as { schema?: unknown } | null)?.schema;
  if (id !== MEASUREMENT_SCHEMA_ID) {
    return refuse([`schema: expected "${MEASUREMENT_SCHEMA_ID}", found ${JSON.stringify(id)}`]);
  }
  const checked = measurementSchema.safeParse(data);
  if (checked.success) return success({ measurement: checked.data, file });
  const { issues } = checked.error;
  const rest = issues.length - MOST_PROBLEMS;
  return refuse([
    ...issues.slice(0, MOST_PROBLEMS).map(({ path: at, message }) => `${at.join('.')}: ${message}`),
    ...(rest > 0 ? [`and ${rest} more`] : []),
  ]);
}

async function findText(path: string): Promise<Outcome<{ text: string; file: string }>> {
  let file = path;
  try {
    if ((await stat(path)).isDirectory()) file = join(path, 'measurement.json');
    // Where the folder cannot be written to, it is read as it is.
    await finishInterrupted(dirname(file)).catch(() => undefined);
    return success({ text: await readFile(file, 'utf8'), file });
  } catch (cause) {
    return failedRead(cause, file, {
      what: 'measurement',
      missingHint: 'give the measurement.json that a measurement wrote, or its folder',
    });
  }
}
