import { describe, expect, it } from 'vitest';
import { weighTemperature } from '../../../src/survey/weigh-temperature.js';
import { estimate, makeMeasurement, UNDETERMINED } from '../report/make-measurement.js';

const MACHINE = { axes: { x: { drive: 'screw' }, y: { drive: 'belt' } } } as const;
const WARM = { marked: { temperature: 30 } };
const STILL = { factor: 1, u: 0 };

describe('temperatures', () => {
  it('that nobody stated change nothing', () => {
    const measurement = makeMeasurement();
    expect(weighTemperature(measurement, STILL, undefined, MACHINE)).toEqual({
      scale: measurement.scale,
      deviations: measurement.deviations,
    });
  });

  it('bring the scale of a screw to 20 °C, and leave a belt open', () => {
    const { scale, scaleAt20 } = weighTemperature(makeMeasurement(), STILL, WARM, MACHINE);
    expect(scale).toEqual(makeMeasurement().scale);
    expect(scaleAt20?.markedAt).toBe(30);
    // 1.3 mm/m less 0.117 mm/m.
    expect(scaleAt20?.x?.value).toBeCloseTo(1.183e-3, 6);
    expect(scaleAt20?.y).toBeUndefined();
    const belt = { axes: { y: { drive: 'belt', material: 'steel' } } } as const;
    const steel = weighTemperature(makeMeasurement(), STILL, WARM, belt).scaleAt20;
    expect(steel?.y?.value).toBeCloseTo(-0.217e-3, 6);
  });

  it('of the board widen both scales and the lines far from the origin, not the ratio', () => {
    const measurement = makeMeasurement({
      scale: {
        x: estimate(1e-3, 6e-5, '1'),
        y: UNDETERMINED,
        ratio: estimate(1e-3, 1e-5, '1'),
      },
    });
    const { scale, deviations } = weighTemperature(
      measurement,
      { factor: 1, u: 4e-5 },
      undefined,
      undefined,
    );
    // √(30² + 40²) = 50 ppm.
    expect(scale.x.state === 'measured' && scale.x.u).toBeCloseTo(5e-5, 7);
    expect(scale.y).toBe(UNDETERMINED);
    expect(scale.ratio).toBe(measurement.scale.ratio);
    expect(deviations[0]?.u).toBe(0.01);
    // 360 mm · 40 ppm = 0.0144 mm beside 0.04 mm.
    expect(deviations[1]?.u).toBeCloseTo(Math.hypot(0.04, 0.0144), 9);
  });
});
