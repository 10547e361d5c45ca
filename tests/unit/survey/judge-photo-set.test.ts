import { describe, expect, it } from 'vitest';
import {
  judgePhotoSet,
  type KnownTurn,
  type PhotoOfSet,
} from '../../../src/survey/judge-photo-set.js';

const DEGREE = Math.PI / 180;

const WHOLE = { inPicture: 1, width: 0.9, height: 0.9, cut: [], mmPerPx: 0.25 };

function photo(
  rollDeg: number,
  changes: Partial<PhotoOfSet> & { readonly tiltDeg?: number } = {},
): PhotoOfSet {
  const { tiltDeg = 1.5, ...rest } = changes;
  return {
    verdict: {
      state: 'good',
      advice: [],
      coverage: WHOLE,
      view: { tiltRad: tiltDeg * DEGREE, rollRad: rollDeg * DEGREE },
    },
    rollRad: rollDeg * DEGREE,
    isCrossed: false,
    camera: 0,
    hasFocalLength: true,
    ...rest,
  };
}

/** As recommended, each a little off. */
const EIGHT = [2, 91, 178, -88, -3, 90, -179, -92].map((roll) => photo(roll));

function subjects(photos: readonly PhotoOfSet[], known: KnownTurn = 'whole') {
  const { state, advice } = judgePhotoSet(photos, known);
  return [state, ...advice.map(({ about, needed }) => `${about}${needed ? '!' : ''}`)];
}

describe('the verdict on a set of photos', () => {
  it('is good for the recommended eight, and counts them by quarter turns', () => {
    expect(judgePhotoSet(EIGHT, 'whole')).toEqual({
      state: 'good',
      usable: 8,
      quarterTurns: [2, 2, 2, 2],
      advice: [],
    });
  });

  it('asks for a quarter turn where all are held the same way round, upside down or not', () => {
    const same = [1, 179, 0, -178, 2, 181, -1, 180].map((roll) => photo(roll));
    expect(subjects(same)).toEqual(['not enough', 'one way round!']);
    expect(judgePhotoSet(same, 'whole').advice[0]?.text).toContain('half of the photos');
  });

  it('says so as well where the grid looks the same after a half turn', () => {
    expect(
      subjects(
        [1, 3, 0, 2, 0, 1, 2, 3].map((roll) => photo(roll)),
        'half',
      ),
    ).toEqual(['not enough', 'one way round!']);
    expect(judgePhotoSet(EIGHT, 'half').quarterTurns).toBeUndefined();
    expect(subjects(EIGHT, 'half')).toEqual(['good']);
  });

  it('does not claim to know it where the grid looks the same after a quarter turn', () => {
    expect(subjects(EIGHT, 'none')).toEqual(['usable', 'way round']);
  });

  it('takes a picture that was stored turned for one of a turned phone no more', () => {
    // Stored turned by a quarter, the rows lie across those of the sensor: the phone was not turned.
    const same = [0, 0, 0, 0].map((roll) => photo(roll));
    const crossed = [90, -90, 90, 90].map((roll) => photo(roll, { isCrossed: true }));
    expect(subjects([...same, ...crossed])).toEqual(['not enough', 'one way round!']);
  });

  it('calls two photos too few and four enough for a first result', () => {
    expect(subjects([photo(0), photo(90)])).toEqual(['not enough', 'number!']);
    expect(subjects([photo(0), photo(90), photo(180), photo(270)])).toEqual(['usable', 'number']);
    expect(subjects([])).toEqual(['not enough', 'number!']);
  });

  it('names the quarter turns that are scarce', () => {
    const uneven = [0, 0, 0, 90, 90, 90, 180, 180].map((roll) => photo(roll));
    const { advice } = judgePhotoSet(uneven, 'whole');
    expect(advice.map(({ about }) => about)).toEqual(['turns']);
    expect(advice[0]?.text).toContain('turned by 270°');
  });

  it('minds tilted photos: most of them, or all', () => {
    const tilted = EIGHT.map((_, i) => photo(90 * i, { tiltDeg: i < 5 ? 8 : 1 }));
    expect(subjects(tilted)).toEqual(['usable', 'tilt']);
    expect(subjects(EIGHT.map((_, i) => photo(90 * i, { tiltDeg: 8 })))).toEqual([
      'not enough',
      'tilt!',
    ]);
  });

  it('minds poor photos: most of them, or all', () => {
    const poor = (count: number) =>
      EIGHT.map((one, i) =>
        i < count ? { ...one, verdict: { ...one.verdict, state: 'poor' as const } } : one,
      );
    expect(subjects(poor(4))).toEqual(['good']);
    expect(subjects(poor(5))).toEqual(['usable', 'photos']);
    expect(subjects(poor(8))).toEqual(['not enough', 'photos!']);
  });

  it('minds several cameras and files without a focal length', () => {
    const mixed = EIGHT.map((one, i) => ({ ...one, camera: i % 2, hasFocalLength: i > 0 }));
    expect(subjects(mixed)).toEqual(['usable', 'cameras', 'lens']);
  });

  it('minds a grid that no photo shows whole', () => {
    const cut = EIGHT.map((one) => ({
      ...one,
      verdict: {
        ...one.verdict,
        coverage: { ...WHOLE, cut: ['left' as const] },
      },
    }));
    expect(subjects(cut)).toEqual(['usable', 'coverage']);
    expect(subjects([EIGHT[0]!, ...cut.slice(1)])).toEqual(['good']);
  });
});
