import { describe, expect, it } from 'vitest';
import { type ForecastRequest, forecast, USUAL_PHOTOS } from '../../../src/forecast/index.js';
import { unwrap } from '../../../src/quantity/index.js';

const REQUEST: ForecastRequest = {
  markedBy: [{ kind: 'lattice', spec: '9x7,50,50' }],
  marking: 'auto',
  blockDelete: false,
  camera: { widthPx: 4000, heightPx: 3000, focalLengthPx: 3005, focalLengthKnown: true },
  photos: USUAL_PHOTOS,
  fill: 0.86,
  sigmaPixelPx: 0.01,
  sigmaMarkMm: 0.012,
  tapeClass: 'II',
  taped: [],
  wanted: [],
};

async function foretold(changes: Partial<ForecastRequest> = {}) {
  return unwrap(await forecast({ ...REQUEST, ...changes }, '0'));
}

describe('a forecast', () => {
  it('is the same whenever it is asked', async () => {
    expect(await foretold()).toEqual(await foretold());
  });

  it('is worse, or at best the same, for marks and photos that are worse', async () => {
    const of = async (changes: Partial<ForecastRequest>) => {
      const { quantities } = await foretold(changes);
      return quantities.find(({ what }) => what === 'squareness')!.U!;
    };
    const usual = await of({});
    for (const worse of [
      { sigmaMarkMm: 0.2 },
      { sigmaPixelPx: 0.5 },
      { fill: 0.2, sigmaPixelPx: 0.1 },
      { photos: [{ kind: 'overhead' as const, count: 4, tiltRad: 0.035 }] },
      { photos: [{ kind: 'overhead' as const, count: 8, tiltRad: 0.09 }] },
    ]) {
      expect(await of(worse), JSON.stringify(worse)).toBeGreaterThan(usual);
    }
  });

  it('of an unknown camera leaves open what a known focal length would have shown weakly', async () => {
    const photos = [{ kind: 'overhead' as const, count: 2, tiltRad: 0.02 }];
    const stateOf = async (focalLengthKnown: boolean) => {
      const { quantities } = await foretold({
        photos,
        camera: { ...REQUEST.camera, focalLengthKnown },
      });
      return quantities.find(({ what }) => what === 'squareness')!.state;
    };
    expect([await stateOf(true), await stateOf(false)]).toEqual(['weak', 'undetermined']);
  });

  it('tells least by the unlucky way of holding the phone', async () => {
    for (const { U, unlucky } of (await foretold()).quantities) {
      if (U !== undefined && unlucky.U !== undefined) expect(unlucky.U).toBeGreaterThanOrEqual(U);
    }
  });

  it('takes less than ten seconds of work for a large grid and a wish that nothing fulfils', async () => {
    const started = process.cpuUsage();
    const { want } = await foretold({
      markedBy: [{ kind: 'lattice', spec: '100x60,30,30' }],
      wanted: [
        { what: 'squareness', unit: 'rad', U: 1e-7 },
        { what: 'scale.x', unit: '1', U: 1e-4 },
      ],
    });
    expect(want?.cheapest).toBeUndefined();
    expect(want?.limit?.source).toBe('camera');
    expect(process.cpuUsage(started).user / 1e6).toBeLessThan(10);
  });
});
