import { describe, expect, it } from 'vitest';
import type { TurnedPairOptions } from '../../samples/index.js';
import { findLatticePair, imageFromCommanded } from '../../src/marks/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { type PlannedPair, photographPair, planPair } from './turned-pair.js';

const PAIR = planPair([400, 400]);
const SMALL = { widthPx: 1400, heightPx: 1050, shadows: false } as const;
const TO_LEFT: TurnedPairOptions = { quarters: 1, offDeg: -2, offMm: [3, 2] };

describe('two interleaved grids in one photo', () => {
  it.each([
    [
      'just a quarter turn to the right',
      { quarters: -1, offDeg: 0, offMm: [0, 0] },
      10,
      5,
      'burnt',
    ],
    ['3° short of a quarter turn', { quarters: 1, offDeg: -3, offMm: [-4, 5] }, 100, 12, 'burnt'],
    ['1° more than one, in chalk', { quarters: -1, offDeg: 1, offMm: [5, -2] }, 190, 8, 'chalk'],
  ] as const)('are each found by their own program: %s', async (_, turn, roll, tilt, markKind) => {
    const { grey, truth } = await photographPair(PAIR, turn, 21, {
      ...SMALL,
      rolls: [roll],
      tiltDeg: [tilt, tilt],
      markKind,
    });
    const { between, fits } = unwrap(await findLatticePair(grey, PAIR.programs));
    const [, told] = truth.placements!;
    const turned = between.rotationRad - told.rotation;
    // Lines of half a pixel's place over 350 mm; machine errors of up to 2 mm/m turn and shift the rest.
    expect(Math.abs(Math.atan2(Math.sin(turned), Math.cos(turned)))).toBeLessThan(1e-3);
    expect(Math.abs(between.shiftMm[0] - told.shift.x)).toBeLessThan(1.5);
    expect(Math.abs(between.shiftMm[1] - told.shift.y)).toBeLessThan(1.5);
    // The middle of the second grid, by either way into the picture.
    const [a, b, c, d, e, f] = between.firstFromSecond;
    const [u, v] = imageFromCommanded(fits[0].map, a * 175 + b * 175 + c, d * 175 + e * 175 + f);
    const [u2, v2] = imageFromCommanded(fits[1].map, 175, 175);
    expect(Math.hypot(u - u2, v - v2)).toBeLessThan(1);
  });

  it('are found as well with the programs named the other way round, the placement inverted', async () => {
    const { grey, truth } = await photographPair(PAIR, TO_LEFT, 22, { ...SMALL, rolls: [300] });
    const [first, second] = PAIR.programs;
    const { between } = unwrap(await findLatticePair(grey, [second, first]));
    const turned = between.rotationRad + truth.placements![1].rotation;
    expect(Math.abs(Math.atan2(Math.sin(turned), Math.cos(turned)))).toBeLessThan(1e-3);
  });

  it('are not seen in a photo of a board that only one program marked: the other one is named', async () => {
    const { grey } = await photographPair(PAIR, undefined, 23, { ...SMALL, rolls: [0] });
    const found = await findLatticePair(grey, PAIR.programs);
    if (found.ok) throw new Error('a grid was found that was never marked');
    expect(found.failure.code).toBe('GRID_NOT_FOUND');
    expect(found.failure.message).toContain('the marks of first.ngc are seen; second.ngc:');
  });

  it('are refused where either program could have made either set of marks', async () => {
    const [first] = PAIR.programs;
    // The same marks, commanded from another zero.
    const moved = first.strokes.map((stroke) => ({
      ...stroke,
      fromMm: [stroke.fromMm[0] + 25, stroke.fromMm[1] + 25] as const,
      toMm: [stroke.toMm[0] + 25, stroke.toMm[1] + 25] as const,
    }));
    const alike: PlannedPair = {
      programs: [first, { ...first, name: 'again.ngc', strokes: moved }],
    };
    const { grey } = await photographPair(alike, { quarters: 1, offDeg: 1, offMm: [24, 25] }, 24, {
      ...SMALL,
      rolls: [0],
    });
    const found = await findLatticePair(grey, alike.programs);
    if (found.ok) throw new Error('marks that tell nothing were told apart');
    expect(found.failure.code).toBe('GRID_AMBIGUOUS');
    expect(found.failure.message).toContain('which of them');
  });
});
