/** The envelope of an arc is that of many points along it, however the arc is written. */

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { readCommands } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';

const RUNS = { seed: 20_262, numRuns: 500 } as const;

const POINTS = 4000;
/** Between two points the arc bulges by r (step / 2)² / 2 at most: below 1e-4 mm for r = 50, two turns. */
const SAMPLED_MM = 1e-3;

/** Right-handed pairs of axes, their letters and those of the centre. */
const PLANES = [
  { code: 'G17', axes: ['X', 'Y'], centre: ['I', 'J'] },
  { code: 'G18', axes: ['Z', 'X'], centre: ['K', 'I'] },
  { code: 'G19', axes: ['Y', 'Z'], centre: ['J', 'K'] },
] as const;

const arc = fc.record({
  plane: fc.constantFrom(...PLANES),
  form: fc.constantFrom('distance', 'position', 'radius', 'turns'),
  isClockwise: fc.boolean(),
  centre: fc.tuple(fc.integer({ min: -90, max: 90 }), fc.integer({ min: -90, max: 90 })),
  radius: fc.integer({ min: 1, max: 50 }),
  startDeg: fc.integer({ min: 0, max: 359 }),
  /** Not near a whole turn: there R tells the centre badly. */
  sweepDeg: fc.integer({ min: 2, max: 350 }).filter((deg) => Math.abs(deg - 180) > 1),
});

test('arcs in all planes and forms reach as far as points along them', () => {
  fc.assert(
    fc.property(arc, ({ plane, form, isClockwise, centre, radius, startDeg, sweepDeg }) => {
      const sense = isClockwise ? -1 : 1;
      const at = (deg: number) =>
        [
          centre[0] + radius * Math.cos((deg * Math.PI) / 180),
          centre[1] + radius * Math.sin((deg * Math.PI) / 180),
        ] as const;
      const start = at(startDeg);
      const end = at(startDeg + sense * sweepDeg);
      const turned = sweepDeg + (form === 'turns' ? 360 : 0);

      const write = (letters: readonly [string, string], [a, b]: readonly [number, number]) =>
        `${letters[0]}${a.toFixed(9)} ${letters[1]}${b.toFixed(9)}`;
      const distance = [centre[0] - start[0], centre[1] - start[1]] as const;
      const words = {
        distance: write(plane.centre, distance),
        position: write(plane.centre, centre),
        radius: `R${sweepDeg > 180 ? -radius : radius}`,
        turns: `${write(plane.centre, distance)} P2`,
      }[form];
      const modes = `G21 ${plane.code} ${form === 'position' ? 'G90.1' : 'G91.1'}`;
      const motion = `${isClockwise ? 'G2' : 'G3'} ${write(plane.axes, end)} ${words}`;
      const text = `${modes}\nG0 ${write(plane.axes, start)}\n${motion} F100\nM2`;
      const options = { name: 'arc.ngc', marking: 'cutter', blockDelete: false } as const;
      const { envelopeMm } = unwrap(readCommands(text, options));

      const points = Array.from({ length: POINTS + 1 }, (_, i) =>
        at(startDeg + (sense * turned * i) / POINTS),
      );
      for (const index of [0, 1] as const) {
        const range = envelopeMm[plane.axes[index].toLowerCase() as 'x' | 'y' | 'z']!;
        const along = points.map((point) => point[index]);
        expect(Math.abs(range[0] - Math.min(...along))).toBeLessThan(SAMPLED_MM);
        expect(Math.abs(range[1] - Math.max(...along))).toBeLessThan(SAMPLED_MM);
      }
    }),
    RUNS,
  );
});
