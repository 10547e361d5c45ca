import { describe, expect, it } from 'vitest';
import type { ForecastOptions } from '../../../cli/forecast.js';
import { parseForecast, parsePhotos, parseWanted } from '../../../cli/parse-forecast.js';
import { unwrap } from '../../../src/index.js';

const OPTIONS: ForecastOptions = {
  marking: 'auto',
  blockDelete: 'off',
  picture: '4000x3000',
  focal: '26mm',
  fill: '86',
  tapeClass: 'III',
  units: 'mm',
  color: false,
};

const DEGREE = Math.PI / 180;

describe('--photos', () => {
  it('takes counts, kinds and tilts, and the usual tilt where none is given', () => {
    expect(unwrap(parsePhotos('8 overhead, 4 walked 15, 1 Unturned 0.5°'))).toEqual([
      { kind: 'overhead', count: 8, tiltRad: 2 * DEGREE },
      { kind: 'walked', count: 4, tiltRad: 15 * DEGREE },
      { kind: 'unturned', count: 1, tiltRad: 0.5 * DEGREE },
    ]);
  });

  it.each([
    '',
    'eight overhead',
    '8 above',
    '0 overhead',
    '41 overhead',
    '8 overhead 61',
    '8 overhead -1',
    '8 overhead,',
    '8 overhead 2 3',
  ])('refuses "%s"', (text) => {
    const parsed = parsePhotos(text);
    expect(parsed.ok).toBe(false);
    if (!parsed.ok) {
      expect(parsed.failure.code).toBe('WRONG_CALL');
      expect(parsed.failure.message).toContain('--photos');
      expect(parsed.failure.hint?.length).toBeGreaterThan(10);
    }
  });
});

describe('--want', () => {
  it('means mm/m for slopes and mm for lengths, inch per foot and inch under --units in', () => {
    expect(unwrap(parseWanted('squareness 0.1', 'mm'))).toEqual([
      { what: 'squareness', unit: 'rad', U: expect.closeTo(1e-4, 12) },
    ]);
    // 0.0012 inch on 12 inches.
    expect(unwrap(parseWanted('squareness 0.0012', 'in'))[0]?.U).toBeCloseTo(1e-4, 12);
    expect(unwrap(parseWanted('lost motion x 0.01', 'mm'))).toEqual([
      { what: 'lostMotion.x', unit: 'mm', U: 0.01 },
    ]);
    expect(unwrap(parseWanted('lost motion x 0.01', 'in'))[0]?.U).toBeCloseTo(0.254, 12);
  });

  it('means both axes where none is named', () => {
    const names = (text: string) => unwrap(parseWanted(text, 'mm')).map(({ what }) => what);
    expect(names('scale 0.2')).toEqual(['scale.x', 'scale.y']);
    expect(names('Scale Y 0.2')).toEqual(['scale.y']);
    expect(names('straightness 0.02')).toEqual(['straightness.x', 'straightness.y']);
    expect(names('ratio 0.1')).toEqual(['scale.ratio']);
    expect(names('scale X : Y 0.1')).toEqual(['scale.ratio']);
    expect(names('scale.ratio 0.1')).toEqual(['scale.ratio']);
  });

  it.each([
    'squareness',
    '0.1',
    'speed 0.1',
    'squareness 0',
    'squareness -1',
    'squareness 0.1 mm/m',
    ' ',
  ])('refuses "%s" and lists the quantities', (text) => {
    const parsed = parseWanted(text, 'mm');
    expect(parsed.ok).toBe(false);
    if (!parsed.ok) expect(parsed.failure.hint).toContain('lost motion');
  });
});

describe('the options of a forecast', () => {
  const camera = (changes: Partial<ForecastOptions>) =>
    unwrap(parseForecast({ ...OPTIONS, ...changes })).camera;

  it('take the focal length in pixels or as 35 mm equivalent over the diagonal', () => {
    expect(camera({ focal: '3100px' }).focalLengthPx).toBe(3100);
    // The diagonal of 36 × 24 mm is 43.27 mm, that of 4000 × 3000 px 5000 px.
    expect(camera({ focal: '26 mm' }).focalLengthPx).toBeCloseTo((26 * 5000) / 43.2666, 1);
    const unknown = camera({ focal: 'unknown' });
    expect(unknown.focalLengthKnown).toBe(false);
    expect(unknown.focalLengthPx).toBeCloseTo((26 * 5000) / 43.2666, 1);
  });

  it('take lengths in the units shown', () => {
    const parsed = unwrap(
      parseForecast({
        ...OPTIONS,
        units: 'in',
        mark: '0.001',
        taped: ['0,0 10,0', 'x'],
        square: '12 0.001',
      }),
    );
    expect(parsed.sigmaMarkMm).toBeCloseTo(0.0254, 9);
    expect(parsed.taped).toEqual([{ fromMm: [0, 0], toMm: [254, 0] }, 'x']);
    expect(parsed.squareCheck?.runMm).toBeCloseTo(304.8, 9);
  });

  it.each([
    ['--photos and --want', { photos: '8 overhead', want: ['squareness 0.1'] }],
    ['--focal', { focal: '26' }],
    ['--focal', { focal: '1px' }],
    ['--focal', { focal: 'wide' }],
    ['--picture', { picture: '4000' }],
    ['--picture', { picture: '4000x3' }],
    ['--fill', { fill: '0' }],
    ['--fill', { fill: '101' }],
    ['--fill', { fill: 'all' }],
    ['--pixel', { pixel: '0' }],
    ['--pixel', { pixel: '11' }],
    ['--mark', { mark: '-1' }],
    ['--taped', { taped: ['z'] }],
    ['--taped', { taped: ['0,0 1'] }],
    ['--square', { square: '300' }],
    ['--square', { square: '300 0' }],
  ] as [string, Partial<ForecastOptions>][])('are refused by name: %s %j', (name, changes) => {
    const parsed = parseForecast({ ...OPTIONS, ...changes });
    expect(parsed.ok).toBe(false);
    if (!parsed.ok) {
      expect(parsed.failure.code).toBe('WRONG_CALL');
      expect(parsed.failure.message).toContain(name);
    }
  });
});
