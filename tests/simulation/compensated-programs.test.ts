import { beforeAll, describe, expect, it } from 'vitest';
import type { MachineErrors } from '../../samples/index.js';
import type { Measurement, Quantity } from '../../shared/schemas/measurement.js';
import {
  COMPENSATED_TERMS,
  type CompensateRequest,
  compensate,
} from '../../src/compensation/index.js';
import { unwrap } from '../../src/quantity/index.js';
import {
  cutPath,
  largestDeparture,
  measureMachine,
  runOnMachine,
  WORN_MACHINE,
  wantedOnBoard,
} from './compensated-machine.js';

/** What is promised of compensated programs. */
const PROMISED_MM = 0.01;

const PROGRAMS: Readonly<Record<string, string>> = {
  'lines in mm': `G21 G90
G0 Z5
G0 X0 Y0
G1 Z-1 F300
G1 X900 Y0 F1500
Y600
X0
Y0
X850 Y550
G0 Z5
M30
`,
  'lines in inches': `G20 G90
G0 X1 Y1
G1 Z-0.05 F20
G1 X30 Y1 F60
X30 Y20
X1 Y1
M30
`,
  'lines in incremental mode': `G21 G90 G0 X20 Y30 Z2
G91
G1 Z-3 F200
X400 F1000
Y300
X-200 Y-150
X-33.333 Y66.667
G90 G1 X700 Y500
G91 X-100 Y-100 Z-1
M30
`,
  'arcs by centre and by radius': `G21 G90 G17
G0 X100 Y100 Z1
G1 Z-1 F200
G2 X300 Y100 I100 J0 F800
G3 X500 Y300 R200
X600 Y400 R150
G2 X650 Y450 R-90
G90.1 G3 X550 Y450 I600 J450
G91.1
G1 X450 Y480
M30
`,
  'full circles and helices': `G21 G90
G0 X450 Y300 Z1
G1 Z0 F200
G2 I-100 J0 F600
G3 X450 Y300 Z-3 I0 J80
G2 X550 Y300 Z-4 R50
G1 X860 Y300
G3 I-20
M30
`,
  'loops, subprograms and parameters': `O1000 (pockets)
G21 G90
#1=0
O100 sub
  G0 X[#1*10] Y[#2] Z2
  G1 Z-1 F[100*2]
  G91 (from here by steps)
  G1 X60
  G3 X0 Y40 I0 J20
  G1 X-60 Y-40
  G90
  G0 Z2
O100 endsub
O200 while [#1 LT 60]
  #1=[#1+17]
  O100 call [#1] [#1*6]
O200 endwhile
M98 P300 L2
M30
O300
G91 G0 X-30 Y10
G90 G1 Z-1 F100
G91 G1 X-25
G90 G0 Z2
M99
`,
  'holes, also repeated in a row': `G21 G90
G0 X20 Y20 Z10
G99 G81 X50 Y60 Z-5 R2 F100
X850
Y550
G91 G81 X-100 Y0 L5
X0 Y-50 L3
G90 G80
G0 Z10
M30
`,
  'presets and local offsets': `G21 G90
G0 X100 Y100 Z1
G1 X300 Y200 F900
G92 X0 Y0
G1 X100 Y50
G52 X10 Y20
G1 X200 Y100 Z-1
G52 X0 Y0
G92.1
M30
`,
  'arcs in upright planes': `G21 G90 G18
G0 X200 Y300 Z0
G2 X300 Z0 I50 K0 F500
G19
G3 Y400 Z0 J50 K0
G17
G1 X500 Y410
M30
`,
};

describe('programs compensated for a measured machine', () => {
  let measurement: Measurement;

  beforeAll(async () => {
    measurement = await measureMachine(WORN_MACHINE);
  });

  for (const [title, text] of Object.entries(PROGRAMS)) {
    it(`land within 0.01 mm of what was meant: ${title}`, () => {
      const compensated = compensateFor(measurement, { text });
      const { before, after } = departures(WORN_MACHINE, text, compensated);
      expect(after).toBeLessThan(PROMISED_MM);
      expect(before).toBeGreaterThan(50 * PROMISED_MM);
    });
  }

  it('do not where a sign is wrong: then they are worse than before', () => {
    const { squareness, scale } = measurement;
    const swapped = {
      ...measurement,
      squareness: negated(squareness),
      scale: { x: negated(scale.x), y: negated(scale.y), ratio: negated(scale.ratio) },
    };
    const text = PROGRAMS['lines in mm']!;
    const { before, after } = departures(WORN_MACHINE, text, compensateFor(swapped, { text }));
    expect(after).toBeGreaterThan(1.8 * before);
  });

  it('do not where a part of the errors is not taken out', () => {
    const text = PROGRAMS['lines in mm']!;
    for (const wanted of COMPENSATED_TERMS) {
      const others = COMPENSATED_TERMS.filter((term) => term !== wanted);
      const compensated = compensateFor(measurement, { text, wanted: new Set(others) });
      expect(departures(WORN_MACHINE, text, compensated).after, wanted).toBeGreaterThan(
        2 * PROMISED_MM,
      );
    }
  });

  it('land as well where their zero lies elsewhere on the grid, and not where that was not said', () => {
    const text = 'G21 G90\nG0 X0 Y0\nG1 X300 F900\nY250\nX0 Y0\nG2 X100 Y100 R90\nM30\n';
    const zeroMm = [430, 270] as const;
    const told = compensateFor(measurement, { text, zeroMm });
    expect(departures(WORN_MACHINE, text, told, zeroMm).after).toBeLessThan(PROMISED_MM);
    const untold = compensateFor(measurement, { text });
    expect(departures(WORN_MACHINE, text, untold, zeroMm).after).toBeGreaterThan(5 * PROMISED_MM);
  });

  it('keep to a coarser tolerance with fewer pieces', () => {
    const text = PROGRAMS['full circles and helices']!;
    const fine = compensateFor(measurement, { text });
    const coarse = compensateFor(measurement, { text, toleranceMm: 0.05 });
    expect(coarse.length).toBeLessThan(fine.length / 2);
    const { after } = departures(WORN_MACHINE, text, coarse);
    expect(after).toBeGreaterThan(PROMISED_MM);
    expect(after).toBeLessThan(0.05 + PROMISED_MM);
  });
});

describe('programs for a gantry that travels along X', () => {
  it('land within 0.01 mm of what was meant', async () => {
    const errors: MachineErrors = {
      ...WORN_MACHINE,
      gantryAxis: 'x',
      yaw: { fromMm: 0, toMm: 900, legendre: [0, -0.0003, 0.0001] },
      drivesMiddleMm: 300,
    };
    const measurement = await measureMachine(errors);
    for (const title of ['lines in mm', 'full circles and helices']) {
      const text = PROGRAMS[title]!;
      const { before, after } = departures(errors, text, compensateFor(measurement, { text }));
      expect(after).toBeLessThan(PROMISED_MM);
      expect(before).toBeGreaterThan(50 * PROMISED_MM);
    }
  });
});

/** Largest departures from what was meant, mm: of the program as it was, and compensated. */
function departures(
  errors: MachineErrors,
  text: string,
  compensated: string,
  zero: readonly [number, number] = [0, 0],
): { readonly before: number; readonly after: number } {
  const meant = cutPath(text);
  expect(meant.length).toBeGreaterThan(3);
  const wanted = wantedOnBoard(errors, meant, zero);
  const departure = (program: string) =>
    largestDeparture(runOnMachine(errors, cutPath(program), zero), wanted);
  return { before: departure(text), after: departure(compensated) };
}

function negated(quantity: Quantity): Quantity {
  return quantity.state === 'undetermined' ? quantity : { ...quantity, value: -quantity.value };
}

function compensateFor(
  measurement: Measurement,
  request: Partial<CompensateRequest> & Pick<CompensateRequest, 'text'>,
): string {
  return unwrap(
    compensate({
      name: 'part.ngc',
      measurement,
      measurementSha256: 'a'.repeat(64),
      wanted: new Set(COMPENSATED_TERMS),
      toleranceMm: 0.005,
      zeroMm: [0, 0],
      ...request,
    }),
  ).text;
}
