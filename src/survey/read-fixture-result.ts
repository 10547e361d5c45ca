/** The saved result of looking at a fixture. */

import { open, stat } from 'node:fs/promises';
import { join } from 'node:path';
import {
  FIXTURE_SCHEMA_ID,
  type FixtureResult,
  fixtureSchema,
} from '../../shared/schemas/fixture.js';
import { type Outcome, success } from '../quantity/index.js';
import { parseRecord, type RecordKind } from './parse-record.js';
import { type RecordPlace, readRecordText } from './read-measurement.js';

export interface SavedFixture {
  readonly result: FixtureResult;
  /** The file itself, where a folder was named. */
  readonly file: string;
}

const KIND: RecordKind<FixtureResult> = {
  id: FIXTURE_SCHEMA_ID,
  schema: fixtureSchema,
  code: 'FIXTURE_INVALID',
  complaint: 'this is no saved result of a fixture',
  hint: 'give the fixture.json that gantrue fixture wrote',
};

const PLACE: RecordPlace = {
  name: 'fixture.json',
  what: 'result of a fixture',
  missingHint: 'give the fixture.json that gantrue fixture wrote, or its folder',
};

/**
 * Reads `fixture.json`; the folder that holds it will do.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; FIXTURE_INVALID.
 */
export async function readFixtureResult(path: string): Promise<Outcome<SavedFixture>> {
  const found = await readRecordText(path, PLACE);
  if (!found.ok) return found;
  const { text, file } = found.value;
  const parsed = parseRecord(text, file, KIND);
  return parsed.ok ? success({ result: parsed.value, file }) : parsed;
}

/**
 * A fixture for the report of a measurement, with a doubt where it was judged by the errors of another one.
 *
 * @param sha256 of the measurement's file, hexadecimal.
 */
export function besideMeasurement(fixture: SavedFixture, sha256: string): SavedFixture {
  const { machine, findings } = fixture.result;
  if (machine.from !== 'measurement' || machine.sha256 === sha256) return fixture;
  const doubt = {
    code: 'MEASUREMENT_DIFFERS',
    message: 'the fixture was judged by the errors of another measurement than this one',
    hint: 'look at it once more with gantrue fixture --measurement and this one: what is the machine’s may have changed',
    ...(machine.file === undefined ? {} : { where: machine.file }),
  };
  return { ...fixture, result: { ...fixture.result, findings: [...findings, doubt] } };
}

/** The schema stands at the head of what this tool writes. */
const HEAD_BYTES = 400;

/** Whether a path names the result of a fixture, or a folder with that and no measurement. */
export async function isFixtureResult(path: string): Promise<boolean> {
  if (await isFolder(path)) {
    return !(await isThere(join(path, 'measurement.json'))) && isThere(join(path, 'fixture.json'));
  }
  try {
    const file = await open(path, 'r');
    try {
      const { buffer, bytesRead } = await file.read(Buffer.alloc(HEAD_BYTES), 0);
      return /"schema"\s*:\s*"gantrue\/fixture\//.test(buffer.toString('utf8', 0, bytesRead));
    } finally {
      await file.close();
    }
  } catch {
    return false;
  }
}

async function isFolder(path: string): Promise<boolean> {
  return stat(path).then(
    (found) => found.isDirectory(),
    () => false,
  );
}

async function isThere(path: string): Promise<boolean> {
  return stat(path).then(
    () => true,
    () => false,
  );
}
