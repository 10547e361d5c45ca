import { describe, expect, it } from 'vitest';
import { parseKnown } from '../../../cli/parse-known.js';
import { unwrap } from '../../../src/index.js';

describe('--known', () => {
  it('is two points, a length and its uncertainty', () => {
    expect(unwrap(parseKnown('0,0 720,-480 865.3 0.2', 'mm'))).toEqual({
      fromMm: [0, 0],
      toMm: [720, -480],
      lengthMm: 865.3,
      uMm: 0.2,
    });
    expect(unwrap(parseKnown('  0 , 0   .5, 1.  2 .1 ', 'mm')).toMm).toEqual([0.5, 1]);
  });

  it('is read in the units that are shown', () => {
    const known = unwrap(parseKnown('0,0 10,0 10.02 0.01', 'in'));
    expect(known.toMm).toEqual([254, 0]);
    expect(known.lengthMm).toBeCloseTo(254.508, 9);
    expect(known.uMm).toBeCloseTo(0.254, 9);
  });

  it('that is malformed or impossible is a wrong call that shows the form', () => {
    for (const text of [
      '',
      '0,0 720,0 721.1',
      '0,0 720,0 721,1 0.2',
      '0 0 720 0 721.1 0.2',
      '0,0 720,0 721.1mm 0.2',
      '0,0 0,0 721.1 0.2',
      '0,0 720,0 0 0.2',
      '0,0 720,0 721.1 0',
      '0,0 720,0 721.1 -0.2',
      '0,0 1e3,0 721.1 0.2',
    ]) {
      const outcome = parseKnown(text, 'mm');
      expect(outcome.ok, text).toBe(false);
      if (outcome.ok) continue;
      expect(outcome.failure.code).toBe('WRONG_CALL');
      expect(outcome.failure.message).toContain(`found "${text}"`);
      expect(outcome.failure.hint).toContain('"0,0 720,0 721.1 0.2"');
    }
  });
});
