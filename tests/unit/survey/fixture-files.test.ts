import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { unwrap } from '../../../src/quantity/index.js';
import { readFixturePoints, readLayout } from '../../../src/survey/index.js';

const OPTIONS = { marking: 'auto', blockDelete: false } as const;

let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'gantrue-layout-'));
});
afterAll(async () => rm(folder, { recursive: true, force: true }));

async function file(name: string, text: string): Promise<string> {
  const path = join(folder, name);
  await writeFile(path, text);
  return path;
}

async function layoutOf(text: string, program?: string) {
  return readLayout(await file('layout.yaml', text), {
    ...OPTIONS,
    ...(program === undefined ? {} : { program }),
  });
}

async function refusal(text: string): Promise<string> {
  const read = await layoutOf(text);
  if (read.ok) throw new Error('it was read');
  expect(read.failure.code).toBe('LAYOUT_INVALID');
  return read.failure.message;
}

describe('a layout file', () => {
  it('names features in machine coordinates; what it leaves out is filled in by kind', async () => {
    const { features, searchMm, clearanceMm } = unwrap(
      await layoutOf(`
name: jig
clearance: 0.05
tolerance: 0.2
features:
  - { name: A, kind: dowel, x: 10, y: 20, diameter: 8, height: 12, role: round, tolerance: 0.1 }
  - { name: B, kind: pin, x: 110, y: 20, diameter: 8, role: slotted }
  - { name: C, kind: insert, x: 60, y: 80, diameter: 6, counterbore: { diameter: 10, depth: 2 } }
  - { name: D, kind: hole, x: 60, y: 120, diameter: 6, role: clamp }
  - { name: fence, kind: edge, from: [0, 0], to: [300, 0], height: 20 }
  - { name: corner, kind: corner, x: 0, y: 0, angle: 90, height: 20, heightU: 0.5 }
`),
    );
    expect([searchMm, clearanceMm]).toEqual([3, 0.05]);
    const [a, b, c, d, fence, corner] = features;
    expect(a).toMatchObject({ atMm: [10, 20], heightMm: 12, heightUMm: 0, toleranceMm: 0.1 });
    expect(b).toMatchObject({ isHeightKnown: false, heightMm: 0, heightUMm: 12, toleranceMm: 0.2 });
    expect(c).toMatchObject({ isHeightKnown: true, heightUMm: 0, scatterMm: 0.15 });
    expect(d).toMatchObject({ role: 'clamp', scatterMm: 0.15 });
    expect(fence).toMatchObject({ kind: 'edge', fromMm: [0, 0], toMm: [300, 0] });
    expect(corner).toMatchObject({ heightUMm: 0.5, edgesRad: [Math.PI / 2, Math.PI] });
  });

  it('in inches is turned into millimetres', async () => {
    const { features, searchMm } = unwrap(
      await layoutOf(
        'units: in\nsearch: 0.1\nfeatures:\n  - { name: A, kind: hole, x: 1, y: 2, diameter: 0.5 }\n',
      ),
    );
    expect(searchMm).toBeCloseTo(2.54, 12);
    expect(features[0]).toMatchObject({ diameterMm: 12.7 });
    expect((features[0] as { atMm: readonly number[] }).atMm).toEqual([25.4, 50.8]);
  });

  it('takes the holes of a program, its own or the one that marked the grid', async () => {
    await file('inserts.ngc', 'G21 G90\nG0 Z5\nG81 X30 Y40 Z-5 R2 F100\nX90 Y40\nG80\nM2\n');
    const read = unwrap(
      await layoutOf(
        'holes: { program: inserts.ngc, kind: insert, diameter: 8, tolerance: 0.3 }\n',
      ),
    );
    expect(read.features).toMatchObject([
      { name: 'hole 1', kind: 'insert', atMm: [30, 40], diameterMm: 8, toleranceMm: 0.3 },
      { name: 'hole 2', kind: 'insert', atMm: [90, 40] },
    ]);
    const marked = unwrap(await layoutOf('holes: { diameter: 8 }\n', join(folder, 'inserts.ngc')));
    expect(marked.features.map(({ kind }) => kind)).toEqual(['hole', 'hole']);
    expect(await refusal('holes: { diameter: 8 }\n')).toContain('none is named');
  });

  it('that cannot be used names every line with what was expected', async () => {
    expect(
      await refusal('features:\n  - { name: A, kind: hole, x: 1, y: two, diameter: 8 }\n'),
    ).toMatch(/line 2: .*entry 1, y: expected a number, found "two"/);
    expect(
      await refusal('features:\n  - { name: A, kind: hole, x: 1, y: 2, width: 8 }\n'),
    ).toContain('width: unknown key');
    expect(await refusal('features:\n  - { name: A, kind: slot, x: 1, y: 2 }\n')).toMatch(
      /line 2: .*kind: expected "hole" or "pin" or "dowel" or "insert" or "edge" or "corner", found "slot"/,
    );
    expect(await refusal('name: nothing\n')).toContain('expected features');
    const twice = '  - { name: A, kind: hole, x: 1, y: 2 }\n';
    expect(await refusal(`features:\n${twice}${twice}`)).toContain('"A" stands twice');
    expect(
      await refusal(
        'features:\n  - { name: A, kind: hole, x: 1, y: 2, diameter: 8, counterbore: { diameter: 6 } }\n',
      ),
    ).toContain('wider than its hole');
    expect(
      await refusal('features:\n  - { name: E, kind: edge, from: [1, 2], to: [1, 2] }\n'),
    ).toContain('two different points');
  });
});

describe('a file of measured features', () => {
  const LAYOUT = `features:
  - { name: A, kind: hole, x: 10, y: 20, diameter: 8 }
  - { name: B, kind: hole, x: 110, y: 20, diameter: 8 }
  - { name: fence, kind: edge, from: [0, 0], to: [100, 0] }
`;
  async function points(text: string) {
    const layout = unwrap(await layoutOf(LAYOUT));
    return readFixturePoints(await file('points.csv', text), layout);
  }
  async function complaint(text: string) {
    const read = await points(text);
    if (read.ok) throw new Error('it was read');
    expect(read.failure.code).toBe('POINTS_INVALID');
    return read.failure.message;
  }

  it('says by its header in which millimetres it was measured', async () => {
    const machine = unwrap(await points('name,x,y,u\nA,10.1,20,0.01\nB,110.1,20,0.01\n'));
    expect(machine.frame).toBe('machine');
    expect(machine.places).toMatchObject([
      { feature: 0, values: [10.1, 20], covariance: [1e-4, 0, 1e-4] },
      { feature: 1 },
    ]);
    expect(unwrap(await points('name;X;Y;u\nA;10,1;20;0,01\n')).frame).toBe('board');
  });

  it('gives an edge by points along it', async () => {
    // At a quarter and three quarters, 0.1 and 0.3 to the left: 0 and 0.4 at the ends.
    const { places } = unwrap(await points('name,x,y,u\nfence,25,0.1,0.01\nfence,75,0.3,0.01\n'));
    expect(places[0]!.values[0]).toBeCloseTo(0, 9);
    expect(places[0]!.values[1]).toBeCloseTo(0.4, 9);
  });

  it('that cannot be used says where and why', async () => {
    expect(await complaint('name,x,y,u\nZ,1,2,0.01\n')).toContain(
      'line 2: name: expected a feature',
    );
    expect(await complaint('name,x,y,u\nA,1,2,0.01\nA,1,2,0.01\n')).toContain('stands twice');
    expect(await complaint('name,x,y,u\nfence,1,2,0.01\n')).toContain('two or more points');
    expect(await complaint('name,x,y,u\nA,1,2,0\n')).toMatch(/line 2, column u: .*above 0/);
    expect(await complaint('name,x,y,X,Y,u\nA,1,2,,,0.1\nB,,,1,2,0.1\n')).toContain('all in X, Y');
  });
});
