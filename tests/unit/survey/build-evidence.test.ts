import { describe, expect, it } from 'vitest';
import type { EvidenceFile } from '../../../shared/schemas/evidence.js';
import { unwrap } from '../../../src/quantity/index.js';
import { buildEvidence } from '../../../src/survey/build-evidence.js';

const LENGTH = {
  from: [0, 0] as [number, number],
  to: [900, 0] as [number, number],
  length: 900.5,
};

function built(file: EvidenceFile, material?: string) {
  return unwrap(buildEvidence([], file, material));
}

function firstLength(file: EvidenceFile, material?: string) {
  const [item] = built(file, material).evidence;
  if (item?.kind !== 'length') throw new Error('no length');
  return item;
}

describe('a taped length', () => {
  it('at an unknown temperature stays as read, and its scale is in doubt by 5 K as well', () => {
    const item = firstLength({ tape: { class: 'I' }, lengths: [LENGTH] });
    expect(item.trueOverRead).toBe(1);
    // Class I over 0.9 m: 0.2 mm; 11.7e-6/K · 5 K = 58.5 ppm; both rectangular.
    const expected = Math.hypot(0.2 / 900.5, 58.5e-6) / Math.sqrt(3);
    expect(item.tapeScaleU).toBeCloseTo(expected, 9);
  });

  it('on a steel tape at 30 °C is 117 ppm longer than read', () => {
    const tape = { class: 'II', temperature: 30, material: 'steel' } as const;
    const item = firstLength({ tape, lengths: [LENGTH] });
    expect(item.lengthMm).toBe(900.5);
    expect(item.trueOverRead).toBeCloseTo(1 + 117e-6, 12);
  });

  it('lies at the temperature of the board where its own is not stated', () => {
    const tape = { class: 'II', material: 'steel' } as const;
    const warm = firstLength({ temperature: 30, tape, lengths: [LENGTH] });
    expect(warm.trueOverRead).toBeCloseTo(1 + 117e-6, 12);
    const stated = firstLength({ tape: { ...tape, temperature: 30 }, lengths: [LENGTH] });
    expect(warm.tapeScaleU).toBeGreaterThan(stated.tapeScaleU);
  });

  it('with an uncertainty of its own is left as it is, apart from the tape', () => {
    const tape = { class: 'II', temperature: 30, material: 'steel' } as const;
    const item = firstLength({ tape, lengths: [{ ...LENGTH, u: 0.05 }] });
    expect(item).toMatchObject({ uMm: 0.05, tapeScaleU: 0, trueOverRead: 1 });
  });
});

describe('a board that warmed from 15 to 25 °C after it was marked', () => {
  const file: EvidenceFile = {
    temperature: 25,
    marked: { temperature: 15 },
    lengths: [{ ...LENGTH, u: 0.05 }],
  };

  it('of aluminium was 236 ppm shorter when it was marked', () => {
    expect(firstLength(file, 'Aluminum').trueOverRead).toBeCloseTo(1 / (1 + 236e-6), 12);
    // ±10 % of 236 ppm and ±1 K at either time, rectangular.
    const expected = Math.sqrt(23.6 ** 2 + 2 * 23.6 ** 2) / Math.sqrt(3);
    expect(built(file, 'aluminium').swell.u * 1e6).toBeCloseTo(expected, 6);
  });

  it('of MDF is not corrected, for moisture moves it more, but is in doubt by what it could have grown', () => {
    const { swell } = built(file, 'mdf');
    expect(swell).toEqual({ factor: 1, u: 120e-6 / Math.sqrt(3) });
    expect(firstLength(file, 'mdf').trueOverRead).toBe(1);
  });

  it('is taken for unchanged where one of the temperatures is not known', () => {
    const { marked: _, ...later } = file;
    expect(built(later, 'aluminium').swell).toEqual({ factor: 1, u: 0 });
  });
});

describe('a rule in a picture', () => {
  const rule = {
    photo: 'p.jpg',
    from: [10, 20] as [number, number],
    to: [900, 20] as [number, number],
    length: 300,
  };

  it('lies 1 mm over the board and is read to a pixel where nothing else is said', () => {
    const [stated] = built({ rules: [rule] }).rules;
    expect(stated).toMatchObject({ sigmaPx: 1, heightMm: 1, uMm: 0, photoName: 'p.jpg' });
    expect(stated!.heightUMm).toBeCloseTo(0.2887, 4);
    // Unmarked: class III, 1 mm; steel, 5 K.
    expect(stated!.ruleScaleU).toBeCloseTo(Math.hypot(1 / 300, 58.5e-6) / Math.sqrt(3), 9);
  });

  it('whose uncertainty is stated is still moved by its temperature', () => {
    const [stated] = built({ rules: [{ ...rule, u: 0.02 }] }).rules;
    expect(stated!.uMm).toBe(0.02);
    expect(stated!.ruleScaleU).toBeCloseTo(58.5e-6 / Math.sqrt(3), 12);
  });

  it('is given in inches where the file is, but for its pixels', () => {
    const [stated] = built({ units: 'in', rules: [{ ...rule, length: 12, height: 0.04 }] }).rules;
    expect(stated!.lengthMm).toBeCloseTo(304.8, 9);
    expect(stated!.heightMm).toBeCloseTo(1.016, 9);
    expect(stated!.fromShown).toEqual([10, 20]);
  });
});
