import { describe, expect, it } from 'vitest';
import type { PhotoVerdict } from '../../../shared/schemas/photo-verdict.js';
import type { MeasuredFamily } from '../../../src/marks/index.js';
import { failed } from '../../../src/quantity/index.js';
import { judgePhoto } from '../../../src/survey/judge-photo.js';
import { gradeShare } from '../../../src/survey/photo-limits.js';
import type { PhotoSight } from '../../../src/survey/sight-photo.js';

const GOOD: PhotoSight = {
  exposure: { area: 'grid', clippedDark: 0, clippedBright: 0, medianGrey: 150 },
  glare: [],
  coverage: { inPicture: 1, width: 0.9, height: 0.8, cut: [], mmPerPx: 0.25 },
  missing: [],
  view: { tiltRad: 0.02, rollRad: 0, quarter: 0, mmPerPx: 0.25 },
};

function family(axis: 'x' | 'y', changes: Partial<MeasuredFamily> = {}): MeasuredFamily {
  return { axis, polarity: 'dark', widthPx: 3.2, contrast: 0.42, edgePx: 3.3, ...changes };
}

function judge(
  sight: Partial<PhotoSight> = {},
  x: Partial<MeasuredFamily> = {},
  y: Partial<MeasuredFamily> = x,
): PhotoVerdict {
  return judgePhoto({ sight: { ...GOOD, ...sight }, families: [family('x', x), family('y', y)] });
}

function withExposure(changes: Partial<PhotoSight['exposure']>): Partial<PhotoSight> {
  return { exposure: { ...GOOD.exposure, ...changes } };
}

function withCoverage(changes: Partial<NonNullable<PhotoSight['coverage']>>): Partial<PhotoSight> {
  return { coverage: { ...GOOD.coverage!, ...changes } };
}

function textsOf({ advice }: PhotoVerdict): string {
  return advice.map(({ text }) => text).join('\n');
}

describe('the verdict on a photo', () => {
  it('is good without advice where nothing is wrong', () => {
    expect(judge()).toMatchObject({ state: 'good', advice: [] });
  });

  it('holds the figures that it rests on', () => {
    const verdict = judge({ missing: [{ light: 'normal', share: 0.01, where: ['top'] }] });
    expect(verdict.exposure).toEqual(GOOD.exposure);
    expect(verdict.coverage).toEqual(GOOD.coverage);
    expect(verdict.marks?.[0]).toEqual({ axis: 'x', contrast: 0.42, widthPx: 3.2, edgePx: 3.3 });
    expect(verdict.missing).toEqual([{ light: 'normal', share: 0.01, where: ['top'] }]);
    expect(verdict.view).toEqual({ tiltRad: 0.02, rollRad: 0 });
  });

  it('tells a blurred photo to be braced', () => {
    const verdict = judge({}, { edgePx: 9, widthPx: 14, contrast: 0.12 });
    expect(verdict.state).toBe('poor');
    expect(verdict.advice[0]).toMatchObject({ about: 'sharpness' });
    expect(textsOf(verdict)).toMatch(/blurred.*9\.0 px.*brace.*light/);
    expect(textsOf(verdict)).not.toContain('chalk');
  });

  it('tells blur in one direction from blur all round', () => {
    expect(textsOf(judge({}, { edgePx: 7 }, { edgePx: 3.3 }))).toMatch(/one direction.*moved/);
    expect(textsOf(judge({}, { edgePx: 7 }))).not.toContain('moved');
  });

  it('allows wider edges where the pixels are finer', () => {
    expect(judge({}, { edgePx: 5.5 }).state).not.toBe('good');
    expect(judge(withCoverage({ mmPerPx: 0.125 }), { edgePx: 5.5 }).state).toBe('good');
  });

  it('asks for chalk where marks are faint and for light where the picture is dark', () => {
    const faint = judge({}, { contrast: 0.04, widthPx: 12 });
    expect(faint.state).toBe('poor');
    expect(faint.advice[0]).toMatchObject({ about: 'contrast' });
    expect(textsOf(faint)).toMatch(/too faint, 4 % .*chalk/);
    const dark = judge(withExposure({ medianGrey: 12 }));
    expect(dark.state).toBe('poor');
    expect(dark.advice[0]).toMatchObject({ about: 'light' });
    expect(textsOf(dark)).toMatch(/too dark.* 12 of 255.*more light/);
    expect(textsOf(dark)).not.toContain('chalk');
  });

  it('names glare with its place and what to do', () => {
    const verdict = judge({
      ...withExposure({ clippedBright: 0.08 }),
      glare: ['top right'],
      missing: [{ light: 'bright', share: 0.1, where: ['top right'] }],
    });
    expect(verdict.state).toBe('usable');
    expect(textsOf(verdict)).toMatch(/glare at the top right, 10 % of the marks.*lamp/);
  });

  it('speaks of the exposure where most of the board is white', () => {
    const verdict = judge({
      ...withExposure({ clippedBright: 0.8 }),
      missing: [{ light: 'bright', share: 0.6, where: [] }],
    });
    expect(verdict.state).toBe('poor');
    expect(textsOf(verdict)).toMatch(/overexposed, 80 % is white and 60 % of the marks/);
    expect(textsOf(verdict)).not.toContain('lamp');
  });

  it('tells shade and things that lie on the board apart', () => {
    const missing = [
      { light: 'dark' as const, share: 0.05, where: ['left' as const] },
      { light: 'normal' as const, share: 0.04, where: ['bottom' as const] },
    ];
    const text = textsOf(judge({ missing }));
    expect(text).toMatch(/5 % of the marks are lost in the dark at the left.*light the board/);
    expect(text).toMatch(/4 % of the marks were not found at the bottom.*clear the board/);
  });

  it('names the sides where the grid is cut', () => {
    const verdict = judge(withCoverage({ inPicture: 0.85, cut: ['left', 'top'] }));
    expect(verdict.state).toBe('usable');
    expect(textsOf(verdict)).toMatch(/cut at the left and top, 15 % of it is outside/);
  });

  it('says go closer where the grid is small, and full size where the pixels are few', () => {
    expect(textsOf(judge(withCoverage({ mmPerPx: 1.3, width: 0.3, height: 0.3 })))).toMatch(
      /too small in the picture.*go closer/,
    );
    const few = textsOf(judge(withCoverage({ mmPerPx: 1.3 })));
    expect(few).toMatch(/too few pixels.*full size/);
    expect(few).not.toContain('closer');
  });

  it('minds a tilt from 3° on, and more from 5° on', () => {
    const tilted = (degrees: number) =>
      judge({ view: { ...GOOD.view!, tiltRad: (degrees * Math.PI) / 180 } });
    expect([2, 4, 7].map((degrees) => tilted(degrees).state)).toEqual(['good', 'usable', 'poor']);
    expect(textsOf(tilted(7))).toMatch(/about 7°.*square-on/);
  });

  it('counts a missing share by what it does to the uncertainty of a direction', () => {
    // 1/(L √n) with L and n both less by the share: u grows by (1 − a)^−1.5.
    const growth = (share: number) => (1 - share) ** -1.5;
    for (const missing of [0.02, 0.05, 0.09, 0.15, 0.19, 0.23, 0.4]) {
      const u = growth(missing);
      const expected = u <= 1.125 ? 'good' : u <= Math.SQRT2 ? 'usable' : 'poor';
      expect(gradeShare(1 - missing), `${missing}`).toBe(expected);
    }
  });

  it('puts what weighs most first', () => {
    const verdict = judge({
      ...withCoverage({ inPicture: 0.97, cut: ['left'] }),
      view: { ...GOOD.view!, tiltRad: 0.2 },
    });
    expect(verdict.advice.map(({ about }) => about)).toEqual(['tilt', 'coverage']);
  });
});

describe('the verdict on a photo that was left out', () => {
  it('is unusable, with the reason and its help', () => {
    const { failure } = failed('PHOTO_BLURRED', 'too wide edges', { hint: 'hold it still' });
    expect(judgePhoto({ failure })).toEqual({
      state: 'unusable',
      advice: [{ about: 'file', state: 'unusable', text: 'too wide edges: hold it still' }],
    });
  });

  it('says first what light did to it', () => {
    const { failure } = failed('GRID_NOT_FOUND', 'no grid');
    const { coverage: _, missing: __, view: ___, ...rest } = GOOD;
    const seen = (clippedBright: number, medianGrey: number): PhotoSight => ({
      ...rest,
      exposure: { area: 'picture', clippedDark: 0, clippedBright, medianGrey },
    });
    expect(judgePhoto({ failure, sight: seen(0.7, 255) }).advice[0]?.text).toContain('overexposed');
    expect(judgePhoto({ failure, sight: seen(0, 4) }).advice[0]?.text).toContain('nearly black');
    expect(judgePhoto({ failure, sight: seen(0, 120) }).advice[0]?.text).toBe('no grid');
  });
});
