/** The record of a plan → the strokes that its program marks. */

import { createHash } from 'node:crypto';
import { basename, dirname, join } from 'node:path';
import { PLAN_SCHEMA_ID, type PlanRecord, planSchema } from '../../shared/schemas/plan.js';
import type { Stroke } from '../../shared/stroke.js';
import { readLimited } from '../imaging/index.js';
import { strokesOfRecord } from '../plan/index.js';
import { decodeProgramText } from '../program/index.js';
import { failed, failedRead, type Outcome, success } from '../quantity/index.js';
import { MOST_RECORD_BYTES, parseRecord, type RecordKind } from './parse-record.js';
import { MOST_PROGRAM_BYTES } from './read-program-file.js';

export interface PlannedProgram {
  readonly record: PlanRecord;
  /** Name of the program. */
  readonly name: string;
  readonly sha256: string;
  readonly strokes: readonly Stroke[];
}

const KIND: RecordKind<PlanRecord> = {
  id: PLAN_SCHEMA_ID,
  schema: planSchema,
  code: 'PLAN_INVALID',
  complaint: 'this is no record of a plan',
  hint: 'give the plan.json that gantrue plan wrote, or the program itself with --program',
};

/**
 * Reads `plan.json`. Where its program lies beside it, it must be the one that was planned: a grid is
 * measured against what was marked, not against what was meant.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; PLAN_INVALID.
 */
export async function readPlan(path: string): Promise<Outcome<PlannedProgram>> {
  let text: string | undefined;
  try {
    text = (await readLimited(path, MOST_RECORD_BYTES))?.toString('utf8');
  } catch (cause) {
    return failedRead(cause, path, { what: 'record of the plan' });
  }
  const parsed = parseRecord(text, path, KIND);
  if (!parsed.ok) return parsed;
  const record = parsed.value;
  const { file: name, sha256 } = record.program;
  const beside = await hashBeside(join(dirname(path), basename(name)));
  if (beside !== undefined && beside !== sha256) {
    return failed('PLAN_INVALID', `${name} beside it is not the program that was planned`, {
      where: path,
      hint: `if the machine ran ${name} as it is now, give it with --program instead of --grid`,
    });
  }
  return success({ record, name, sha256, strokes: strokesOfRecord(record) });
}

/** Undefined where there is no program to compare with. */
async function hashBeside(path: string): Promise<string | undefined> {
  let bytes: Buffer | undefined;
  try {
    bytes = await readLimited(path, MOST_PROGRAM_BYTES);
  } catch {
    return undefined;
  }
  if (bytes === undefined) return '';
  const text = decodeProgramText(bytes, basename(path));
  // As the plan's own hash was taken: of the text in UTF-8.
  return text.ok ? createHash('sha256').update(text.value, 'utf8').digest('hex') : '';
}
