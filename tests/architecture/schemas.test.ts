import { readFile } from 'node:fs/promises';
import { describe, expect, it } from 'vitest';
import { evidenceSchema } from '../../shared/schemas/evidence.js';
import { machineSchema } from '../../shared/schemas/machine.js';
import { measurementSchema } from '../../shared/schemas/measurement.js';
import { schemaTexts } from '../../shared/schemas/write.js';
import { makeMeasurement } from '../unit/report/make-measurement.js';

describe('the published JSON Schemas', () => {
  for (const [name, text] of Object.entries(schemaTexts())) {
    it(`${name} says what the code says`, async () => {
      const published = await readFile(new URL(`../../shared/schemas/${name}`, import.meta.url));
      expect(published.toString('utf8')).toBe(text);
    });
  }

  it('are twelve, each of a file or of what --json prints', () => {
    expect(Object.keys(schemaTexts()).sort()).toEqual([
      'comparison.schema.json',
      'drift.schema.json',
      'evidence.schema.json',
      'fixture.schema.json',
      'forecast.schema.json',
      'history.schema.json',
      'layout.schema.json',
      'machine.schema.json',
      'measurement.schema.json',
      'photo-check.schema.json',
      'plan.schema.json',
      'regions.schema.json',
    ]);
  });

  it('let a reader of measurements meet keys of later versions', () => {
    const later = { ...makeMeasurement(), later: 1 };
    expect(measurementSchema.safeParse(later).success).toBe(true);
    const schema = JSON.parse(schemaTexts()['measurement.schema.json']!);
    expect(schema.additionalProperties).toBeUndefined();
  });

  it('refuse keys that the machine and evidence files do not have', () => {
    expect(machineSchema.safeParse({ gantry: 'y' }).success).toBe(false);
    expect(evidenceSchema.safeParse({ tapes: {} }).success).toBe(false);
    for (const name of ['machine', 'evidence']) {
      const schema = JSON.parse(schemaTexts()[`${name}.schema.json`]!);
      expect(schema.additionalProperties).toBe(false);
    }
  });
});
