import { describe, expect, it } from 'vitest';
import { unwrap } from '../../../src/quantity/index.js';
import type { Usable } from '../../../src/survey/adjust-photos.js';
import { buildEvidence } from '../../../src/survey/build-evidence.js';
import { checkRulePhotos, placeRules } from '../../../src/survey/place-rules.js';

/** Two commanded millimetres per pixel, no turn, no lens. */
const MAP = {
  homography: Float64Array.from([0.5, 0, 0, 0, 0.5, 0, 0, 0, 1]),
  centrePx: [200, 150] as const,
  radiusPx: 250,
  k1: 0,
  k2: 0,
};

function photo(path: string, orientation: number): Usable {
  const examined = {
    photo: { widthPx: 400, heightPx: 300, exif: { orientation } },
    marks: { map: MAP },
  };
  return { fate: { path }, index: 0, examined } as never;
}

function rules(from: readonly number[], to: readonly number[], length = 400) {
  const file = { rules: [{ photo: 'p.jpg', from, to, length, u: 0.1 }] };
  return unwrap(buildEvidence([], file as never, undefined)).rules;
}

describe('a rule in a picture', () => {
  // EXIF 2.32, 4.6.4 A, Orientation: of 6 the sensor's left edge is shown at the top.
  it.each([
    [1, [100, 30], [100, 30]],
    [6, [299 - 30, 100], [100, 30]],
    [8, [30, 399 - 100], [100, 30]],
  ])('is read from the upright picture, orientation %d', (orientation, shown, sensor) => {
    const other = orientation === 1 ? [300, 30] : orientation === 6 ? [269, 300] : [30, 99];
    const placed = unwrap(placeRules(rules(shown, other), [photo('a/p.jpg', orientation)]));
    expect(placed.findings).toEqual([]);
    const [rule] = placed.rules;
    expect(rule!.fromPx[0]).toBeCloseTo(sensor[0]!, 9);
    expect(rule!.fromPx[1]).toBeCloseTo(sensor[1]!, 9);
    expect(rule!.toPx[0]).toBeCloseTo(300, 9);
  });

  it('must lie within it', () => {
    const placed = placeRules(rules([10, 10], [400, 10]), [photo('p.jpg', 1)]);
    expect(placed).toMatchObject({ ok: false, failure: { code: 'EVIDENCE_INVALID' } });
  });

  it('of another unit is refused, of another length doubted', () => {
    const inches = placeRules(rules([0, 10], [200, 10], 400 / 25.4), [photo('p.jpg', 1)]);
    expect(inches).toMatchObject({ ok: false, failure: { code: 'UNITS_SUSPECT' } });
    const wrong = unwrap(placeRules(rules([0, 10], [200, 10], 440), [photo('p.jpg', 1)]));
    expect(wrong.findings.map(({ code }) => code)).toEqual(['LENGTH_IMPLAUSIBLE']);
  });

  it('whose photo was left out is left out with it, and that is said', () => {
    const placed = unwrap(placeRules(rules([0, 10], [200, 10]), [photo('q.jpg', 1)]));
    expect(placed.rules).toEqual([]);
    expect(placed.findings.map(({ code }) => code)).toEqual(['EVIDENCE_NOT_USED']);
  });

  it('must lie in a photo that is given', () => {
    const stated = rules([0, 10], [200, 10]);
    expect(checkRulePhotos(stated, ['a/p.jpg']).ok).toBe(true);
    expect(checkRulePhotos(stated, ['a/q.jpg'])).toMatchObject({
      failure: { code: 'EVIDENCE_INVALID', hint: 'name one of q.jpg' },
    });
  });
});
