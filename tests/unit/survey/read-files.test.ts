import { readFile } from 'node:fs/promises';
import { describe, expect, it } from 'vitest';
import type { Failure, Outcome } from '../../../src/quantity/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import {
  parseEvidence,
  parseMachine,
  readEvidence,
  readMachine,
} from '../../../src/survey/index.js';

function failureOf(outcome: Outcome<unknown>): Failure {
  if (outcome.ok) throw new Error('no failure');
  return outcome.failure;
}

describe('a machine file', () => {
  it('may write the homing ends bare, quoted or as words', async () => {
    for (const text of [
      'homing: { x: -, y: + }',
      'homing: { x: \'-\', y: "+" }',
      'homing: { x: minus, y: plus }',
      'homing:\n  x: -\n  y: +   # comment',
      'homing: {x: -,\n  y: plus}\nname: a',
    ]) {
      expect(unwrap(await parseMachine(text)).homing, text).toEqual({ x: '-', y: '+' });
    }
  });

  it('keeps the same letters elsewhere as they are', async () => {
    const text = 'name: "x: -, y: -"\nsettings: |\n  x: -\n';
    expect(unwrap(await parseMachine(text))).toEqual({ name: 'x: -, y: -', settings: 'x: -\n' });
  });

  it('of the sample is read whole', async () => {
    const file = new URL('../../../samples/sign-shop/machine.yaml', import.meta.url).pathname;
    expect(unwrap(await readMachine(file))).toMatchObject({
      gantryAxis: 'y',
      homing: { x: '-', y: '-' },
      axes: { x: { stepsPerMm: 320 }, y: { drives: 2, driveSpacing: 940 } },
      limits: { lostMotion: 0.05 },
    });
  });

  it('has every problem named with line, key, what is expected and what was found', async () => {
    const text = [
      'name: a',
      'gantryAxis: z',
      'axes:',
      '  x: { stepsPerMm: -320 }',
      '  y: { stepsPerMm: 84.883 mm }',
      'driveSpacing: 1010',
    ].join('\n');
    const { code, message, figures } = failureOf(await parseMachine(text, 'm.yaml'));
    expect(code).toBe('MACHINE_INVALID');
    expect(figures.problems).toBe(4);
    expect(message).toContain('line 2: gantryAxis: expected "x" or "y" or "none", found "z"');
    expect(message).toContain('line 4: axes.x.stepsPerMm: expected a number above 0, found -320');
    expect(message).toContain(
      'line 5: axes.y.stepsPerMm: expected a number, found "84.883 mm" (write the number alone, without mm)',
    );
    expect(message).toMatch(
      /line 6: driveSpacing: unknown key\n +known there: name, travel, gantryAxis, .*settings$/,
    );
  });

  it('that is no YAML is refused with the line', async () => {
    const { code, message } = failureOf(await parseMachine('name: a\ntravel: { x: 900\n'));
    expect(code).toBe('MACHINE_INVALID');
    expect(message).toMatch(/line [23]: no valid YAML/);
  });

  it('that is empty or no text is refused', async () => {
    expect(failureOf(await parseMachine('')).message).toContain('empty');
    const photo = new URL('../../../samples/sign-shop/photo-1.jpg', import.meta.url).pathname;
    expect(failureOf(await readMachine(photo)).code).toBe('MACHINE_INVALID');
  });

  it('with an unknown placeholder is refused, listing those that exist', async () => {
    const { code, message, hint } = failureOf(await parseMachine('settings: "a {{q}}"'));
    expect(code).toBe('MACHINE_INVALID');
    expect(message).toContain('{{q}}');
    expect(hint).toContain('{{y.stepsPerMm}}');
  });

  it('that does not exist, or is a folder, is named so', async () => {
    expect(failureOf(await readMachine('/nowhere/m.yaml')).code).toBe('FILE_MISSING');
    expect(failureOf(await readMachine('/')).code).toBe('FILE_UNREADABLE');
  });
});

describe('an evidence file', () => {
  it('of the sample is read whole', async () => {
    const file = new URL('../../../samples/sign-shop/evidence.yaml', import.meta.url).pathname;
    const evidence = unwrap(await readEvidence(file));
    expect(evidence.lengths).toHaveLength(2);
    expect(evidence.taken).toBe('2026-11-20');
    expect(await readFile(file, 'utf8')).toContain('721.1');
    expect(evidence.lengths?.[0]?.length).toBe(721.1);
  });

  it('has wrong entries named with line and place', () => {
    const text = [
      'units: cm',
      'lengths:',
      '  - { from: [0, 0], to: [900, 0], length: 900.9 }',
      '  - { from: [0, 0], to: [900], length: 0 }',
    ].join('\n');
    const { code, message } = failureOf(parseEvidence(text));
    expect(code).toBe('EVIDENCE_INVALID');
    expect(message).toContain('line 1: units: expected "mm" or "in", found "cm"');
    expect(message).toMatch(/line 4: lengths entry 2, length: expected a number above 0, found 0/);
    expect(message).toMatch(/line 4: lengths entry 2, to/);
  });

  it('with a date that is none, or a length from a point to itself, is refused', () => {
    const { message } = failureOf(
      parseEvidence('taken: 2026-02-30\nlengths: [{ from: [1, 2], to: [1, 2], length: 5 }]'),
    );
    expect(message).toContain('taken: expected a date');
    expect(message).toContain('lengths entry 1: expected two different points');
  });
});

describe('an evidence file with temperatures and rules', () => {
  const rule = 'photo: p1.jpg, from: [10, 20], to: [900.5, 20], length: 300, height: 0.8, class: A';

  it('is read whole', () => {
    const text = `tape: { class: II, temperature: 21.5, material: steel }\nrules:\n  - { ${rule}, sigma: 0.5 }\npoints: { temperature: 20 }`;
    expect(unwrap(parseEvidence(text))).toMatchObject({
      tape: { temperature: 21.5 },
      rules: [{ class: 'A', from: [10, 20], sigma: 0.5 }],
      points: { temperature: 20 },
    });
  });

  it('of a temperature in °F, an unknown material or a rule without length is refused', () => {
    expect(failureOf(parseEvidence('tape: { temperature: 68 }')).message).toContain(
      'line 1: tape.temperature: expected a number of at most 50, found 68',
    );
    expect(failureOf(parseEvidence('tape: { material: cheese }')).message).toContain('"steel" or');
    const same = rule.replace('900.5', '10');
    expect(failureOf(parseEvidence(`rules: [{ ${same} }]`)).message).toContain(
      'rules entry 1: expected two different pixels',
    );
  });
});
