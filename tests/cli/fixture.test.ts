import { readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  evenPositions,
  gridProgram,
  landedPosition,
  randomScene,
  simulate,
} from '../../samples/index.js';
import type { BoardObject } from '../../samples/scene.js';
import { type FixtureResult, fixtureSchema } from '../../shared/schemas/fixture.js';
import { emptyFolder, runGantrue } from './run-gantrue.js';

/** A jig of six pins and two holes, as drawn: machine coordinates, mm. */
const NOMINAL = [
  [75, 75],
  [225, 75],
  [325, 75],
  [75, 225],
  [225, 225],
  [325, 225],
  [125, 125],
  [275, 175],
] as const;
const PINS = 6;
const PIN_HEIGHT = 12;
/** It truly lies turned by 2 mm/m about (200, 150), shifted by 0.6 and -0.4, its fifth pin off by 0.7 along X. */
const TURN_RAD = 2e-3;
const SHIFT = [0.6, -0.4] as const;
const CULPRIT = 4;
const SEED = 3;

const LAYOUT = [
  'name: test jig',
  'tolerance: 0.3',
  'features:',
  ...NOMINAL.map(([x, y], i) =>
    i < PINS
      ? `  - { name: P${i + 1}, kind: pin, x: ${x}, y: ${y}, diameter: 8, height: ${PIN_HEIGHT} }`
      : `  - { name: H${i + 1}, kind: hole, x: ${x}, y: ${y}, diameter: 10 }`,
  ),
  '',
].join('\n');

/** Of three pins, as another instrument measured them. */
const THREE_POINTS = 'name,x,y,u\nP1,75,75,0.01\nP2,225,75,0.01\nP3,325,75.2,0.01\n';

describe('gantrue fixture', () => {
  let folder: Awaited<ReturnType<typeof emptyFolder>>;
  let photos: string[];
  /** Where the machine has to be sent to meet each feature, by the simulator's own arithmetic. */
  let truth: (readonly [number, number])[];
  const inFolder = (name: string) => join(folder.path, name);

  beforeAll(async () => {
    folder = await emptyFolder();
    const program = gridProgram({ xMm: evenPositions(9, 50), yMm: evenPositions(7, 50) });
    await writeFile(inFolder('grid.ngc'), program.text);
    await writeFile(inFolder('layout.yaml'), LAYOUT);
    const rolls = [0, 90];
    const { machine } = randomScene(SEED, program.strokes, { rolls }).scene;
    const places = NOMINAL.map(([x, y], i) => {
      const [px, py] = [x - 200, y - 150];
      const c = Math.cos(TURN_RAD);
      const s = Math.sin(TURN_RAD);
      const off = i === CULPRIT ? 0.7 : 0;
      return [200 + SHIFT[0] + c * px - s * py + off, 150 + SHIFT[1] + s * px + c * py] as const;
    });
    truth = places.map(([X, Y]) => {
      let at = [X, Y] as const;
      for (let round = 0; round < 30; round++) {
        const [x, y] = landedPosition(machine, at[0], at[1], 0, 0, 0.5);
        at = [at[0] + X - x, at[1] + Y - y];
      }
      return at;
    });
    const fixture = places.map(
      (centreMm, i): BoardObject => ({
        kind: i < PINS ? 'pin' : 'hole',
        centreMm,
        sizeMm: i < PINS ? [8, 8] : [10, 10],
        angleRad: 0,
        heightMm: i < PINS ? PIN_HEIGHT : 0,
        tone: i < PINS ? [0.75, 0.76, 0.78] : [0.03, 0.03, 0.03],
      }),
    );
    const simulated = await simulate({
      strokes: program.strokes,
      seed: SEED,
      outDir: folder.path,
      options: {
        widthPx: 1800,
        heightPx: 1350,
        rolls,
        principalWanderPx: 2,
        fixture,
        objects: false,
      },
    });
    photos = simulated.files.filter((file) => file.endsWith('.jpg'));
  });
  afterAll(async () => folder.remove());

  async function look(...args: string[]): Promise<FixtureResult> {
    const ran = await runGantrue(['fixture', ...args, '--json', '--quiet']);
    expect(ran.stderr).toBe('');
    return fixtureSchema.parse(JSON.parse(ran.stdout));
  }

  function expectFound({ features }: FixtureResult) {
    features.forEach(({ name, state, machine }, i) => {
      expect(state, name).toBe('found');
      const [x, y] = truth[i]!;
      // Three standard uncertainties.
      expect(Math.abs(machine!.x - x), `${name} X`).toBeLessThan(3 * machine!.ux);
      expect(Math.abs(machine!.y - y), `${name} Y`).toBeLessThan(3 * machine!.uy);
    });
    // Holes in the board itself need no height: hundredths of a millimetre.
    for (const { machine } of features.slice(PINS)) expect(machine!.ux).toBeLessThan(0.02);
  }

  it('measures grid and fixture in the same photos, and names the pin that is off', async () => {
    const args = [
      ...photos,
      '--layout',
      inFolder('layout.yaml'),
      '--program',
      inFolder('grid.ngc'),
    ];
    const result = await look(...args, '--out', inFolder('looked'));
    expectFound(result);
    expect(result.cause).toMatchObject({ which: 'one feature', feature: 'P5' });
    expect(result.machine.from).toBe('photos');
    const { offset, rotation, at } = result.onBoard!;
    const expected = [SHIFT[0] - TURN_RAD * (at.y - 150), SHIFT[1] + TURN_RAD * (at.x - 200)];
    expect(Math.abs(offset.x.value - expected[0]!)).toBeLessThan(1.5 * offset.x.U);
    expect(Math.abs(offset.y.value - expected[1]!)).toBeLessThan(1.5 * offset.y.U);
    expect(Math.abs(rotation.value - TURN_RAD)).toBeLessThan(1.5 * rotation.U);
    const written = JSON.parse(await readFile(inFolder('looked/fixture.json'), 'utf8'));
    expect({ ...written, measuredAt: '' }).toEqual({ ...result, measuredAt: '' });
    // A report, and a picture of each photo.
    expect(result.photos.map(({ overlay }) => overlay)).toEqual([
      'fixture-photo-1.jpg',
      'fixture-photo-2.jpg',
    ]);
    expect((await readdir(inFolder('looked'))).sort()).toEqual([
      'fixture-photo-1.jpg',
      'fixture-photo-2.jpg',
      'fixture.html',
      'fixture.json',
    ]);
    const html = await readFile(inFolder('looked/fixture.html'), 'utf8');
    expect(html).toContain('P5 is off, the others agree; P5 is outside its tolerance');
    expect(html.match(/src="data:image\/jpeg/g)).toHaveLength(2);
    // An earlier result stays unless it is said otherwise.
    const again = await runGantrue(['fixture', ...args, '--out', inFolder('looked')]);
    expect(again.code).toBe(2);
    expect(again.stderr).toContain('[OUTPUT_EXISTS]');
    const forced = await runGantrue([
      ...['fixture', ...args, '--out', inFolder('looked')],
      ...['--force', '--quiet'],
    ]);
    expect(forced.stderr).toBe('');
    expect(forced.code).toBe(0);
  });

  it('writes its report again, alone and in that of a measurement', async () => {
    const before = await readFile(inFolder('looked/fixture.html'), 'utf8');
    const alone = await runGantrue(['report', inFolder('looked'), '--force', '--quiet']);
    expect(alone.code).toBe(0);
    expect(alone.stdout).toMatch(/^test jig: 8 of 8 features measured in 2 photos/);
    expect(await readFile(inFolder('looked/fixture.html'), 'utf8')).toBe(before);
    const measured = await runGantrue([
      ...['measure', ...photos, '--program', inFolder('grid.ngc')],
      ...['--out', inFolder('both'), '--quiet'],
    ]);
    expect(measured.code).toBe(0);
    const ran = await runGantrue([
      ...['report', inFolder('both'), '--fixture', inFolder('looked/fixture.json')],
      ...['--force', '--units', 'in'],
    ]);
    expect(ran.stderr).toContain('report.html');
    expect(ran.code).toBe(0);
    expect(ran.stdout).toMatch(/\ntest jig: 8 of 8 features measured/);
    const html = await readFile(inFolder('both/report.html'), 'utf8');
    expect(html).toContain('<h2>Fixture test jig</h2>');
    expect(html.match(/src="data:image\/jpeg/g)).toHaveLength(4);
    const wrong = await runGantrue([
      ...['report', inFolder('looked'), '--fixture', inFolder('looked')],
    ]);
    expect(wrong.code).toBe(2);
    const noFixture = await runGantrue([
      ...['report', inFolder('both'), '--fixture', inFolder('both/measurement.json'), '--force'],
    ]);
    expect(noFixture.code).toBe(3);
    expect(noFixture.stderr).toContain('[FIXTURE_INVALID]');
  });

  it('says in the report of a measurement that a fixture was judged by another one', async () => {
    await writeFile(inFolder('few.csv'), THREE_POINTS);
    const judged = await runGantrue([
      ...['fixture', '--layout', inFolder('layout.yaml'), '--points', inFolder('few.csv')],
      ...['--measurement', inFolder('both'), '--out', inFolder('by-both'), '--quiet'],
    ]);
    expect(judged.code).toBe(0);
    const report = (measurement: string) =>
      runGantrue([
        ...['report', measurement, '--fixture', inFolder('by-both'), '--out', inFolder('again')],
        ...['--force', '--quiet'],
      ]);
    const own = await report(inFolder('both'));
    expect(own.code).toBe(0);
    expect(own.stdout).not.toContain('another measurement');
    const { measuredAt, ...rest } = JSON.parse(
      await readFile(inFolder('both/measurement.json'), 'utf8'),
    );
    const later = JSON.stringify({ ...rest, measuredAt: '2031-01-01T00:00:00.000Z' });
    expect(measuredAt).not.toBe('2031-01-01T00:00:00.000Z');
    await writeFile(inFolder('later.json'), later);
    const other = await report(inFolder('later.json'));
    expect(other.code).toBe(0);
    expect(other.stdout).toContain('judged by the errors of another measurement');
    const html = await readFile(inFolder('again/report.html'), 'utf8');
    expect(html).toContain('judged by the errors of another measurement');
  });

  it('leaves a measurement in the same folder alone, and that leaves it alone', async () => {
    const args = [
      ...['fixture', '--layout', inFolder('layout.yaml'), '--points', inFolder('few.csv')],
      ...['--out', inFolder('both'), '--quiet'],
    ];
    await writeFile(inFolder('few.csv'), THREE_POINTS);
    const before = (await readdir(inFolder('both'))).sort();
    expect(before).toContain('report.html');
    for (const more of [[], ['--force']]) {
      const ran = await runGantrue([...args, ...more]);
      expect(ran.stderr).toBe('');
      expect(ran.code).toBe(0);
      expect((await readdir(inFolder('both'))).sort()).toEqual(
        [...before, 'fixture.html', 'fixture.json'].sort(),
      );
    }
    // A folder that holds both is that of the measurement.
    const report = await runGantrue(['report', inFolder('both'), '--force', '--quiet']);
    expect(report.stdout).not.toContain('test jig');
    const again = await runGantrue([
      ...['measure', photos[0]!, '--program', inFolder('grid.ngc')],
      ...['--out', inFolder('both'), '--quiet', '--force'],
    ]);
    expect(again.code).toBe(0);
    const after = await readdir(inFolder('both'));
    expect(after).toContain('fixture.html');
    expect(after).not.toContain('overlay-photo-2.jpg');
  });

  it('finds the same in the photos of a saved measurement, without its program', async () => {
    const measured = await runGantrue([
      'measure',
      ...photos,
      '--program',
      inFolder('grid.ngc'),
      '--out',
      inFolder('measured'),
      '--quiet',
    ]);
    expect(measured.code).toBe(0);
    const result = await look(
      ...photos,
      '--layout',
      inFolder('layout.yaml'),
      '--measurement',
      inFolder('measured'),
    );
    expect(result.machine.from).toBe('measurement');
    result.features.slice(PINS).forEach(({ machine }, i) => {
      const [x, y] = truth[PINS + i]!;
      expect(Math.hypot(machine!.x - x, machine!.y - y)).toBeLessThan(0.1);
    });
    // A record that was spoilt, of a camera whose axis points elsewhere, is no way to the features.
    const record = JSON.parse(await readFile(inFolder('measured/measurement.json'), 'utf8'));
    for (const value of [-786_156_771, 1e300]) {
      for (const camera of record.camera) camera.cx.value = value;
      await writeFile(inFolder('spoilt.json'), JSON.stringify(record));
      const args = ['--layout', inFolder('layout.yaml'), '--measurement', inFolder('spoilt.json')];
      const spoilt = await runGantrue(['fixture', ...photos, ...args]);
      expect(spoilt.stderr).toMatch(/\[(FEATURES_NOT_FOUND|NO_USABLE_PHOTO)\]/);
      expect(spoilt.code).toBe(3);
    }
    // Photos that were not measured have no place in it.
    const other = inFolder('other.jpg');
    await writeFile(
      other,
      await readFile(new URL('../../samples/sign-shop/photo-1.jpg', import.meta.url)),
    );
    const ran = await runGantrue([
      'fixture',
      other,
      '--layout',
      inFolder('layout.yaml'),
      '--measurement',
      inFolder('measured'),
    ]);
    expect(ran.code).toBe(3);
    expect(ran.stderr).toContain('[NO_USABLE_PHOTO]');
    expect(ran.stderr).toContain('none of the photos of the measurement');
  });

  it('judges points that were measured otherwise, in sentences of 80 columns', async () => {
    const rows = NOMINAL.map(
      ([x, y], i) => `${i < PINS ? 'P' : 'H'}${i + 1},${x + 0.5},${y - (i === 1 ? 0.6 : 0)},0.01`,
    );
    await writeFile(inFolder('probed.csv'), `name,x,y,u\n${rows.join('\n')}\n`);
    const args = [
      'fixture',
      '--layout',
      inFolder('layout.yaml'),
      '--points',
      inFolder('probed.csv'),
    ];
    const ran = await runGantrue(args);
    expect(ran.code).toBe(0);
    expect(ran.stderr).toBe('');
    expect(ran.stdout).toMatch(/^test jig: 8 of 8 features measured from probed.csv \(machine/);
    expect(ran.stdout).toContain('One feature is off, P2; the others agree.');
    expect(ran.stdout).toMatch(/P2 +X \+0\.500 +Y −0\.600 mm; left 1\.\d+ ± 0\.\d+ mm; OUTSIDE/);
    expect(ran.stdout).toContain('[MACHINE_UNKNOWN]');
    for (const line of ran.stdout.split('\n')) expect(line.length).toBeLessThanOrEqual(80);
    const inches = await runGantrue([...args, '--units', 'in', '--check']);
    expect(inches.code).toBe(1);
    expect(inches.stdout).toMatch(/P2 +X \+0\.0197 +Y −0\.0236 in/);
  });

  it('keeps names with markup and control characters in them text', async () => {
    const evil = '<img src=x onerror=alert(1)>\u001b[2J"&';
    await writeFile(
      inFolder('evil.yaml'),
      `name: ${JSON.stringify(evil)}\ntolerance: 0.3\nfeatures:\n${[75, 225, 325]
        .map((x) => `  - { name: ${JSON.stringify(`${evil}${x}`)}, kind: hole, x: ${x}, y: 75 }\n`)
        .join('')}`,
    );
    const quoted = evil.replaceAll('"', '""');
    await writeFile(
      inFolder('evil.csv'),
      `name,x,y,u\n${[75, 225, 325].map((x) => `"${quoted}${x}",${x + 0.4},75,0.01\n`).join('')}`,
    );
    const ran = await runGantrue([
      ...['fixture', '--layout', inFolder('evil.yaml'), '--points', inFolder('evil.csv')],
      ...['--out', inFolder('evil'), '--quiet'],
    ]);
    expect(ran.stderr).toBe('');
    expect(ran.code).toBe(0);
    expect(ran.stdout).not.toContain('\u001b');
    const html = await readFile(inFolder('evil/fixture.html'), 'utf8');
    expect(html).toContain('&lt;img src=x onerror=alert(1)&gt;');
    expect(html).not.toContain('<img');
    expect(html).not.toContain('\u001b');
  });

  it('says with --check that something was not found', async () => {
    await writeFile(
      inFolder('some.csv'),
      'name,x,y,u\nP1,75,75,0.01\nP2,225,75,0.01\nP3,325,75,0.01\n',
    );
    const ran = await runGantrue([
      'fixture',
      '--layout',
      inFolder('layout.yaml'),
      '--points',
      inFolder('some.csv'),
      '--check',
    ]);
    expect(ran.code).toBe(4);
    expect(ran.stdout).toMatch(/Nothing is wrong/);
    expect(ran.stdout).toMatch(/H7 +NOT FOUND: it is not in some\.csv/);
    expect(ran.stdout.replaceAll(/\s+/g, ' ')).toContain(
      'Leave it: offset and rotation are smaller',
    );
  });

  it('refuses calls that leave out what it needs', async () => {
    const layout = ['--layout', inFolder('layout.yaml')];
    const cases: [string[], number, string][] = [
      [[...layout], 2, 'photos are missing'],
      [[photos[0]!], 2, "required option '--layout <file>' not specified"],
      [[photos[0]!, ...layout], 2, 'nothing says how the photos look at the board'],
      [[photos[0]!, ...layout, '--points', 'x.csv'], 2, 'both given'],
      [['--layout', inFolder('none.yaml'), '--points', 'x.csv'], 3, 'no such layout file'],
    ];
    for (const [args, code, words] of cases) {
      const ran = await runGantrue(['fixture', ...args]);
      expect(ran.stderr).toContain(words);
      expect(ran.code).toBe(code);
      expect(ran.stdout).toBe('');
    }
  });

  it('says of every feature why it was not found, where none was', async () => {
    await writeFile(
      inFolder('elsewhere.yaml'),
      'features:\n  - { name: A, kind: hole, x: 60, y: 210, diameter: 12 }\n  - { name: B, kind: hole, x: 900, y: 900, diameter: 12 }\n',
    );
    const ran = await runGantrue([
      'fixture',
      photos[0]!,
      '--layout',
      inFolder('elsewhere.yaml'),
      '--program',
      inFolder('grid.ngc'),
    ]);
    expect(ran.code).toBe(3);
    expect(ran.stderr).toContain('[FEATURES_NOT_FOUND]');
    expect(ran.stderr).toMatch(/A: no rim of 12 mm runs within 3 mm of its place/);
    expect(ran.stderr).toMatch(/B: it lies outside the picture/);
  });
});
