/** The evidence file. */

import { type EvidenceFile, evidenceSchema } from '../../shared/schemas/evidence.js';
import { failed, type Outcome } from '../quantity/index.js';
import { parseYaml, readYamlFile, type YamlKind } from './read-yaml-file.js';

const KIND: YamlKind<EvidenceFile> = {
  schema: evidenceSchema,
  code: 'EVIDENCE_INVALID',
  name: 'evidence file',
};

/**
 * Reads an evidence file; numbers stay in its own units.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; EVIDENCE_INVALID with every problem and its line.
 */
export async function readEvidence(path: string): Promise<Outcome<EvidenceFile>> {
  return checkFurther(await readYamlFile(path, KIND), path);
}

/** The same from text. */
export function parseEvidence(text: string, where = 'evidence file'): Outcome<EvidenceFile> {
  return checkFurther(parseYaml(text, where, KIND), where);
}

/** Dates that are none, and lengths and rules between two equal points, which the schema cannot say. */
function checkFurther(outcome: Outcome<EvidenceFile>, where: string): Outcome<EvidenceFile> {
  if (!outcome.ok) return outcome;
  const { taken, marked, lengths, rules } = outcome.value;
  const problems = [
    ...[
      ['taken', taken],
      ['marked.date', marked?.date],
    ].flatMap(([key, date]) =>
      date === undefined || isDate(date)
        ? []
        : [`${key}: expected a date such as 2026-11-20, found ${JSON.stringify(date)}`],
    ),
    ...(lengths ?? []).flatMap(({ from, to }, i) =>
      from[0] === to[0] && from[1] === to[1]
        ? [`lengths entry ${i + 1}: expected two different points, found (${from}) twice`]
        : [],
    ),
    ...(rules ?? []).flatMap(({ from, to }, i) =>
      from[0] === to[0] && from[1] === to[1]
        ? [`rules entry ${i + 1}: expected two different pixels, found (${from}) twice`]
        : [],
    ),
  ];
  if (problems.length === 0) return outcome;
  return failed(
    'EVIDENCE_INVALID',
    `the evidence file cannot be used\n  ${problems.join('\n  ')}`,
    {
      where,
      hint: 'correct these entries; keys and units are described in the README',
      figures: { problems: problems.length },
    },
  );
}

/** Year, month and day, with or without a time. */
function isDate(text: string): boolean {
  const date = /^(\d{4})-(\d{2})-(\d{2})(?:$|[T ])/.exec(text);
  if (date === null) return false;
  const [year, month, day] = date.slice(1).map(Number) as [number, number, number];
  const read = new Date(Date.UTC(year, month - 1, day));
  return read.getUTCMonth() === month - 1 && read.getUTCDate() === day;
}
