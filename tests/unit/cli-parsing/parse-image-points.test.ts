import { describe, expect, it } from 'vitest';
import { parseImagePoints } from '../../../cli/parse-image-points.js';
import { unwrap } from '../../../src/quantity/index.js';

type Options = Parameters<typeof parseImagePoints>[1];
const WHOLE = { imagePoints: 'p.csv', imageSize: '4000x3000' };

function refusal(options: Options, named: readonly string[] = []): string {
  const parsed = parseImagePoints(named, options);
  if (parsed.ok) throw new Error('was parsed');
  expect(parsed.failure.code).toBe('WRONG_CALL');
  expect(parsed.failure.hint).toBeTruthy();
  return parsed.failure.message;
}

describe('--image-points', () => {
  it('is not needed', () => {
    expect(unwrap(parseImagePoints(['a.jpg'], {}))).toBeUndefined();
  });

  it('comes with the size of the pictures and what is known of the camera', () => {
    expect(unwrap(parseImagePoints([], WHOLE))).toEqual({
      imagePointsFile: 'p.csv',
      camera: { widthPx: 4000, heightPx: 3000 },
      isGridKnown: false,
    });
    const all = { ...WHOLE, focalLength: '3100.5', cameraTerms: ' f, k1', knownGrid: true };
    expect(unwrap(parseImagePoints([], all))).toEqual({
      imagePointsFile: 'p.csv',
      camera: { widthPx: 4000, heightPx: 3000, focalLengthPx: 3100.5 },
      cameraTerms: ['f', 'k1'],
      isGridKnown: true,
    });
  });

  it('needs the size, in whole pixels', () => {
    expect(refusal({ imagePoints: 'p.csv' })).toContain('--image-size is missing');
    for (const imageSize of ['4000', '4000x', '4000.5x3000', '0x3000', '4000,3000', '-4000x3000']) {
      expect(refusal({ ...WHOLE, imageSize })).toContain(`found "${imageSize}"`);
    }
  });

  it('needs a focal length above 0, if any', () => {
    for (const focalLength of ['0', '-3', 'long', '', '3000px']) {
      expect(refusal({ ...WHOLE, focalLength })).toContain('--focal-length: expected');
    }
  });

  it('tells a focal length in mm by the view that it would have', () => {
    // 2 atan(2000 / 5.4) in degrees.
    expect(refusal({ ...WHOLE, focalLength: '5.4' })).toContain('5.4 px would see 180°');
    expect(parseImagePoints([], { ...WHOLE, focalLength: '801' }).ok).toBe(true);
  });

  it('stands by itself: neither photos nor measured nodes nor what pictures need', () => {
    expect(refusal(WHOLE, ['a.jpg'])).toContain('photos and --image-points');
    expect(refusal({ ...WHOLE, points: ['n.csv'] })).toContain('--points and --image-points');
    expect(
      refusal({ ...WHOLE, origin: 'top-left', crossing: ['a'], rectified: true, photosOnly: true }),
    ).toContain('--origin, --crossing, --rectified, --photos-only: not with --image-points');
    expect(refusal({ ...WHOLE, knownGrid: true, check: true })).toContain('--check');
  });

  it('is what its companions belong to', () => {
    expect(
      refusal({ imageSize: '4x3', focalLength: '1', cameraTerms: 'f', knownGrid: true }, ['a.jpg']),
    ).toBe('--image-size, --focal-length, --camera-terms, --known-grid: only with --image-points');
  });
});

describe('--camera-terms', () => {
  it('names terms that there are, each once', () => {
    expect(refusal({ ...WHOLE, cameraTerms: 'f,k4' })).toContain('found "k4"');
    expect(refusal({ ...WHOLE, cameraTerms: 'f,lensSkew' })).toContain('found "lensSkew"');
    expect(refusal({ ...WHOLE, cameraTerms: 'f,,k1' })).toContain('found nothing');
    expect(refusal({ ...WHOLE, cameraTerms: 'f,k1,f' })).toContain('f stands there twice');
  });

  it('keeps both coordinates of the distortion centre together', () => {
    expect(refusal({ ...WHOLE, cameraTerms: 'f,centreU' })).toContain('belong together');
    expect(parseImagePoints([], { ...WHOLE, cameraTerms: 'f,centreV,centreU' }).ok).toBe(true);
  });

  it('may leave out the focal length only where it is stated', () => {
    expect(refusal({ ...WHOLE, cameraTerms: 'cu,cv' })).toContain('neither adjusted nor known');
    const stated = { ...WHOLE, cameraTerms: 'cu,cv', focalLength: '3000' };
    expect(parseImagePoints([], stated).ok).toBe(true);
  });
});
