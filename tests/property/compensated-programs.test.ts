/** Random programs, compensated: nothing changes without errors, everything lands where it was meant with them. */

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { curveValue, type MachineErrors } from '../../samples/index.js';
import { datumOf } from '../../src/compensation/check-result.js';
import type { LandingTerms } from '../../src/compensation/choose-terms.js';
import { landingMap } from '../../src/compensation/landing-map.js';
import { refuseUnsafe } from '../../src/compensation/refuse-unsafe.js';
import { type Rewritten, rewriteProgram } from '../../src/compensation/rewrite-program.js';
import { traceProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';
import {
  cutPath,
  LINES_X,
  LINES_Y,
  largestDeparture,
  runOnMachine,
  wantedOnBoard,
} from '../simulation/compensated-machine.js';
import { landingTerms } from '../unit/compensation/landing-terms.js';

const RUNS = { seed: 20_262, numRuns: 150 } as const;
const TOLERANCE_MM = 0.005;
/** Rounding of X and Y to 0.001 mm or 0.0001 in, and of the ends that arcs are drawn from. */
const ROUNDING_MM = 0.004;

const NO_ERRORS = landingTerms({ linesAtX: LINES_X, linesAtY: LINES_Y });

type Step =
  | { readonly kind: 'move'; readonly code: 0 | 1; readonly x: number; readonly y: number }
  | { readonly kind: 'axis'; readonly axis: 'X' | 'Y'; readonly to: number }
  | { readonly kind: 'ramp'; readonly x: number; readonly y: number; readonly z: number }
  | {
      readonly kind: 'arc';
      readonly turn: number;
      readonly radius: number;
      readonly left: boolean;
      readonly byRadius: boolean;
    }
  | { readonly kind: 'circle'; readonly radius: number; readonly z: number }
  | { readonly kind: 'holes'; readonly x: number; readonly y: number }
  | { readonly kind: 'units' | 'distance' | 'other' | 'preset'; readonly which: number };

const [WIDTH, HEIGHT] = [900, 600];
const x = fc.integer({ min: 100, max: WIDTH * 10 - 1000 }).map((value) => value / 10);
const y = fc.integer({ min: 100, max: HEIGHT * 10 - 1000 }).map((value) => value / 10);

const step: fc.Arbitrary<Step> = fc.oneof(
  {
    weight: 4,
    arbitrary: fc.record({
      kind: fc.constant('move' as const),
      code: fc.constantFrom(0 as const, 1 as const),
      x,
      y,
    }),
  },
  {
    weight: 2,
    arbitrary: fc.record({
      kind: fc.constant('axis' as const),
      axis: fc.constantFrom('X' as const, 'Y' as const),
      to: y,
    }),
  },
  {
    weight: 1,
    arbitrary: fc.record({
      kind: fc.constant('ramp' as const),
      x,
      y,
      z: fc.integer({ min: -5, max: 5 }),
    }),
  },
  {
    weight: 2,
    arbitrary: fc.record({
      kind: fc.constant('arc' as const),
      turn: fc.integer({ min: 10, max: 170 }),
      radius: fc.integer({ min: 3, max: 40 }),
      left: fc.boolean(),
      byRadius: fc.boolean(),
    }),
  },
  {
    weight: 1,
    arbitrary: fc.record({
      kind: fc.constant('circle' as const),
      radius: fc.integer({ min: 2, max: 40 }),
      z: fc.integer({ min: -5, max: 5 }),
    }),
  },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('holes' as const), x, y }) },
  {
    weight: 3,
    arbitrary: fc.record({
      kind: fc.constantFrom(
        'units' as const,
        'distance' as const,
        'other' as const,
        'preset' as const,
      ),
      which: fc.nat(99),
    }),
  },
);

const OTHER = [
  'M8',
  '(a comment (of the shop',
  'G4 P0.5',
  'S12000 M3',
  '',
  '  ; nothing',
  'F700',
  'G64',
].map(
  (line) => line.replace('(a comment (of', '(a comment of') + (line.startsWith('(') ? ')' : ''),
);

interface Written {
  readonly text: string;
  /** Lines that move nothing. */
  readonly still: readonly string[];
}

/** Writes the steps out, following the position in mm so that relative moves and arcs stay on the bed. */
function write(steps: readonly Step[], lineEnd: string): Written {
  const lines: string[] = ['%', 'G21 G90 G17 (start)', 'G0 X50. Y50. Z5', 'G1 Z-1 F300'];
  const still = ['%', 'G21 G90 G17 (start)', 'G1 Z-1 F300'];
  let unit = 1;
  let isIncremental = false;
  let [hereX, hereY, hereZ] = [50, 50, -1];
  /** What the words of X and Y name lies so much beside. */
  let [shiftX, shiftY] = [0, 0];
  const quiet = (line: string) => {
    lines.push(line);
    still.push(line);
  };
  const length = (mm: number) => String(Number((mm / unit).toFixed(unit === 1 ? 4 : 6)));
  const word = (letter: string, to: number, here: number, shift: number) =>
    `${letter}${length(isIncremental ? to - here : to - shift)}`;
  const go = (code: string, toX: number, toY: number, more = '') => {
    lines.push(`${code} ${word('X', toX, hereX, shiftX)} ${word('Y', toY, hereY, shiftY)}${more}`);
    [hereX, hereY] = [toX, toY];
  };
  for (const one of steps) {
    if (one.kind === 'move') go(`G${one.code}`, one.x, one.y);
    else if (one.kind === 'axis') {
      const isX = one.axis === 'X';
      lines.push(`G1${isX ? word('X', one.to, hereX, shiftX) : word('Y', one.to, hereY, shiftY)}`);
      if (isX) hereX = one.to;
      else hereY = one.to;
    } else if (one.kind === 'ramp') {
      const z = word('Z', one.z, hereZ, 0);
      hereZ = one.z;
      go('G1', one.x, one.y, ` ${z}`);
    } else if (one.kind === 'arc') {
      const centreY = hereY + (one.left ? one.radius : -one.radius);
      if (!isOnBed(hereX, centreY, one.radius)) continue;
      const angle = (one.turn * Math.PI) / 180;
      const toX = hereX + one.radius * Math.sin(angle);
      const toY = hereY + (one.left ? 1 : -1) * one.radius * (1 - Math.cos(angle));
      const centre = `I0 J${length(one.left ? one.radius : -one.radius)}`;
      const by = one.byRadius ? `R${length(one.radius)}` : centre;
      go(one.left ? 'G3' : 'G2', toX, toY, ` ${by} (bend)`);
    } else if (one.kind === 'circle') {
      if (!isOnBed(hereX + one.radius, hereY, one.radius)) continue;
      const z = word('Z', one.z, hereZ, 0);
      hereZ = one.z;
      lines.push(`G2 I${length(one.radius)} J0. ${z} M9`);
    } else if (one.kind === 'holes') {
      const heights = isIncremental
        ? `Z${length(-3)} R${length(0)}`
        : `Z${length(-8)} R${length(5)}`;
      go('G98 G81', one.x, one.y, ` ${heights} F90`);
      hereZ = isIncremental ? hereZ : Math.max(hereZ, 5);
      quiet('G80');
      // The height behind a cycle is named again, so that it is known.
      lines.push(`G0 ${word('Z', 5, hereZ, 0)}`);
      still.push(lines.at(-1)!);
      hereZ = 5;
    } else if (one.kind === 'units') {
      unit = one.which % 2 === 0 ? 1 : 25.4;
      quiet(unit === 1 ? 'G21' : 'G20');
    } else if (one.kind === 'distance') {
      isIncremental = one.which % 2 === 0;
      quiet(isIncremental ? 'G91' : 'G90');
    } else if (one.kind === 'preset') {
      // Later words lie that much beside; the line itself is renamed, not still.
      const [nameX, nameY] = [one.which, 100 - one.which];
      lines.push(`G92 X${length(nameX)} Y${length(nameY)}`);
      [shiftX, shiftY] = [hereX - nameX, hereY - nameY];
    } else quiet(OTHER[one.which % OTHER.length]!);
  }
  quiet('M30');
  quiet('%');
  return { text: lines.join(lineEnd) + lineEnd, still: still.filter((line) => line.trim() !== '') };
}

/** Beyond the measured grid nothing is promised. */
function isOnBed(centreX: number, centreY: number, radius: number): boolean {
  return (
    centreX >= radius &&
    centreX <= WIDTH - radius &&
    centreY >= radius &&
    centreY <= HEIGHT - radius
  );
}

const programs = fc
  .tuple(fc.array(step, { minLength: 1, maxLength: 14 }), fc.constantFrom('\n', '\r\n'))
  .map(([steps, lineEnd]) => ({ ...write(steps, lineEnd), lineEnd }));

function rewrite(text: string, terms: LandingTerms): Rewritten {
  const trace = unwrap(traceProgram('random', text, false));
  const datum = datumOf(trace.lines)!;
  expect(refuseUnsafe(trace.lines, datum)).toEqual([]);
  return rewriteProgram({
    ...{ text, trace, datum, zeroMm: [0, 0] },
    map: landingMap(terms, [0, 0]),
    toleranceMm: TOLERANCE_MM,
  });
}

describe('a random program', () => {
  it('stays byte for byte where the machine is true', () => {
    fc.assert(
      fc.property(programs, ({ text }) => {
        const rewritten = rewrite(text, NO_ERRORS);
        expect(rewritten.text).toBe(text);
        expect(rewritten.counts.changed).toBe(0);
      }),
      RUNS,
    );
  });

  const size = (most: number) => fc.integer({ min: -100, max: 100 }).map((v) => (v / 100) * most);
  const machines = fc.record({
    scaleX: size(0.002),
    scaleY: size(0.002),
    squarenessRad: size(0.002),
    bowX: size(0.15),
    bowY: size(0.15),
    table: fc.array(size(0.06), { minLength: LINES_X.length, maxLength: LINES_X.length }),
  });

  it('lands where it was meant on a machine with errors, and keeps every line that moves nothing', () => {
    fc.assert(
      fc.property(programs, machines, ({ text, still, lineEnd }, machine) => {
        const errors = errorsOf(machine);
        const terms = termsOf(errors);
        const { text: written } = rewrite(text, terms);
        const lines = written.split(lineEnd);
        let at = 0;
        for (const line of still) {
          at = lines.indexOf(line, at) + 1;
          expect(at, line).toBeGreaterThan(0);
        }
        expect(lines.filter((line) => line.includes('(bend)'))).toHaveLength(
          text.split('(bend)').length - 1,
        );
        const wanted = wantedOnBoard(errors, cutPath(text, 2));
        const landed = runOnMachine(errors, cutPath(written, 2));
        if (wanted.length === 0) return;
        expect(largestDeparture(landed, wanted)).toBeLessThan(TOLERANCE_MM + ROUNDING_MM);
      }),
      RUNS,
    );
  });
});

function errorsOf(machine: {
  scaleX: number;
  scaleY: number;
  squarenessRad: number;
  bowX: number;
  bowY: number;
  table: number[];
}): MachineErrors {
  const bow = (size: number, toMm: number) => ({ fromMm: 0, toMm, legendre: [0, 0, size] });
  return {
    scaleX: machine.scaleX,
    scaleY: machine.scaleY,
    squarenessRad: machine.squarenessRad,
    lostMotionXMm: 0,
    lostMotionYMm: 0,
    lostMotionGradient: 0,
    positionX: { atMm: LINES_X, deviationMm: machine.table },
    positionY: { atMm: [], deviationMm: [] },
    straightnessX: bow(machine.bowX, WIDTH),
    straightnessY: bow(machine.bowY, HEIGHT),
    yaw: bow(0, HEIGHT),
    gantryAxis: 'y',
    drivesMiddleMm: WIDTH / 2,
  };
}

/** The same errors as a measurement tells them. */
function termsOf(errors: MachineErrors): LandingTerms {
  const curve = (from: typeof errors.straightnessX, lines: readonly number[]) =>
    lines.map((at) => ({ at, value: curveValue(from, at), u: 0.001 }));
  return {
    ...NO_ERRORS,
    scaleX: errors.scaleX,
    scaleY: errors.scaleY,
    squarenessRad: errors.squarenessRad,
    straightnessX: curve(errors.straightnessX, LINES_X),
    straightnessY: curve(errors.straightnessY, LINES_Y),
    tableX: LINES_X.map((at, k) => ({ at, value: errors.positionX.deviationMm[k]! })),
  };
}
