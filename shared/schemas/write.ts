/** Script: writes the published JSON Schemas anew from the schemas in code. */

import { writeFile } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { z } from 'zod';
import { comparisonSchema, regionsSchema } from './comparison.js';
import { driftSchema } from './drift.js';
import { evidenceSchema } from './evidence.js';
import { fixtureSchema } from './fixture.js';
import { forecastSchema } from './forecast.js';
import { historySchema } from './history.js';
import { layoutSchema } from './layout.js';
import { machineSchema } from './machine.js';
import { measurementSchema } from './measurement.js';
import { photoCheckSchema } from './photo-check.js';
import { planSchema } from './plan.js';

const PUBLISHED = {
  'measurement.schema.json': {
    schema: measurementSchema,
    title: 'Result of a measurement, measurement.json',
  },
  'machine.schema.json': {
    schema: machineSchema,
    title: 'Machine file (YAML)',
  },
  'evidence.schema.json': {
    schema: evidenceSchema,
    title: 'Evidence file (YAML)',
  },
  'photo-check.schema.json': {
    schema: photoCheckSchema,
    title: 'Verdict on photos, measure --photos-only --json',
  },
  'plan.schema.json': {
    schema: planSchema,
    title: 'Record of a laid-out grid, plan.json',
  },
  'forecast.schema.json': {
    schema: forecastSchema,
    title: 'What a grid and photos will reach, forecast --json',
  },
  'history.schema.json': {
    schema: historySchema,
    title: 'The history of machines, log export',
  },
  'drift.schema.json': {
    schema: driftSchema,
    title: 'What a history says of machines and boards, drift --json',
  },
  'regions.schema.json': {
    schema: regionsSchema,
    title: 'Measurements of several places of one bed, compare --regions --json',
  },
  'comparison.schema.json': {
    schema: comparisonSchema,
    title: 'Two measurements compared, compare --json',
  },
  'layout.schema.json': {
    schema: layoutSchema,
    title: 'Layout of a fixture (YAML)',
  },
  'fixture.schema.json': {
    schema: fixtureSchema,
    title: 'Where a fixture really sits, fixture.json',
  },
} as const;

/** The text of every published schema by file name. */
export function schemaTexts(): Record<string, string> {
  return Object.fromEntries(
    Object.entries(PUBLISHED).map(([name, { schema, title }]) => {
      // As input: readers ignore keys that they do not know, so that later versions may add some.
      const json = z.toJSONSchema(schema, { target: 'draft-2020-12', io: 'input' });
      const { $schema, ...rest } = json;
      return [name, `${JSON.stringify({ $schema, title, ...rest }, undefined, 2)}\n`];
    }),
  );
}

/** Compiled, this file lies in dist/shared/schemas; the schemas belong beside the sources. */
async function main(): Promise<void> {
  const outDir =
    process.argv[2] ?? fileURLToPath(new URL('../../../shared/schemas', import.meta.url));
  for (const [name, text] of Object.entries(schemaTexts())) {
    await writeFile(join(outDir, name), text);
    process.stdout.write(`${join(outDir, name)}\n`);
  }
}

if (process.argv[1] !== undefined && resolve(process.argv[1]) === fileURLToPath(import.meta.url)) {
  await main();
}
