/**
 * Whatever file is given: each command ends with one of its exit codes, soon, and prints nothing that acts on a terminal.
 *
 * GANTRUE_HOSTILE=20000 tries that many files, shared among the kinds, from a new seed (GANTRUE_SEED repeats
 * one), and prints counts; without it the draw is small and always the same.
 */

import { copyFile, mkdir, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import fc from 'fast-check';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { stringify } from 'yaml';
import { evenPositions, gridProgram, simulate } from '../../samples/index.js';
import type { BoardObject } from '../../samples/scene.js';
import { propose } from '../../src/index.js';
import { makeMeasurement } from '../unit/report/make-measurement.js';
import {
  type Spoil,
  spoiledBytes,
  spoiledJson,
  spoiledNumbers,
  spoiledText,
  template,
} from './hostile-files.js';
import { HostileServer } from './hostile-server.js';
import { emptyFolder, runGantrue } from './run-gantrue.js';
import { SAMPLE_FOLDER, SAMPLE_PROGRAM, samplePhoto } from './sample-photos.js';

const WANTED = Number(process.env.GANTRUE_HOSTILE ?? 0);
const FAST_PER_KIND = 25;
const SEED = Number(process.env.GANTRUE_SEED ?? (WANTED > 0 ? Date.now() % 2 ** 31 : 20_264));
const MOST_MS = 10_000;
const TIMEOUT_MS = WANTED > 0 ? 7_200_000 : 300_000;
/** What a command may end with: 70 would be a fault of the tool. */
const CODES: readonly unknown[] = [0, 1, 2, 3, 4];
/** All but tabs and ends of lines that moves the cursor or changes the order of letters. */
const ACTS =
  /\r(?!\n)|[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u2028-\u202e\u2066-\u2069]/;

interface Kind {
  readonly name: string;
  /** Good files to spoil. */
  readonly good: () => Promise<readonly string[]>;
  readonly spoil: fc.Arbitrary<Spoil>;
  readonly extension: string;
  /** Commands that read it; each starts in an empty folder of its own. */
  readonly commands: (bad: string, text: string, which: number) => readonly (readonly string[])[];
}

let folder: Awaited<ReturnType<typeof emptyFolder>>;
let server: HostileServer;
const good = (name: string) => join(folder.path, name);

beforeAll(async () => {
  folder = await emptyFolder();
  server = new HostileServer(folder.path, MOST_MS);
  await writeGoodFiles();
}, 120_000);
afterAll(async () => {
  server.stop();
  await folder.remove();
});

const PLAIN = ['--quiet'];
const SMALL_GRID = ['--lattice', '5x5,150,100'];
/** Without photos, which take seconds; where they were measured with the tool, one small one is looked at. */
const fixture = () => ['fixture', '--points', good('probed.csv')];

/** Options with a small language of their own, and a good word for each. */
const OPTIONS = [
  ['--lattice', '5x5,150,100'],
  ['--photos', '2 overhead 2, 1 walked 20'],
  ['--want', 'squareness 0.4'],
  ['--picture', '4000x3000'],
  ['--focal', '26mm'],
  ['--fill', '86'],
  ['--pixel', '0.02'],
  ['--mark', '0.012'],
  ['--taped', '0,0 600,400'],
  ['--square', '300 0.02'],
  ['--since', '2026-11-01'],
] as const;

function optionCommand(option: (typeof OPTIONS)[number][0]): string[] {
  if (option === '--since') return ['drift', '--history', good('history.sqlite'), option];
  const photos = option === '--photos' || option === '--want' ? [] : ['--photos', '2 overhead 2'];
  const grid = option === '--lattice' ? [] : SMALL_GRID;
  return ['forecast', ...grid, ...photos, option];
}
const KINDS: readonly Kind[] = [
  {
    name: 'programs',
    good: async () => [SAMPLE_PROGRAM, good('plan/grid.ngc'), good('flow/grid.ngc')],
    spoil: fc.oneof(spoiledText, spoiledBytes),
    extension: '.ngc',
    commands: (bad) => [
      ['plan', '--check', bad, '--travel', '900x600', '--out', 'out', ...PLAIN],
      ['compensate', bad, '--measurement', good('measurement.json'), '--out', 'out.ngc', ...PLAIN],
      ['measure', '--points', good('points.csv'), '--program', bad, '--out', 'out2', ...PLAIN],
      ['forecast', '--program', bad, '--photos', '2 overhead 2', ...PLAIN],
      [...fixture(), '--layout', good('holes.yaml'), '--program', bad, ...PLAIN],
    ],
  },
  {
    name: 'machine files',
    good: async () => [join(SAMPLE_FOLDER, 'machine.yaml')],
    spoil: spoiledText,
    extension: '.yaml',
    commands: (bad) => [
      ['propose', good('measurement.json'), '--machine', bad],
      ['plan', '--machine', bad, '--out', 'out', ...PLAIN],
      ['forecast', ...SMALL_GRID, '--photos', '2 overhead 2', '--machine', bad, ...PLAIN],
    ],
  },
  {
    name: 'settings templates',
    good: async () => [join(SAMPLE_FOLDER, 'machine.yaml')],
    spoil: template.map((text) => (machine: Buffer) => {
      const kept = machine.toString('utf8').replace(/settings:[\s\S]*/, '');
      return Buffer.from(`${kept}settings: ${JSON.stringify(text)}\n`);
    }),
    extension: '.yaml',
    commands: (bad) => [['propose', good('measurement.json'), '--machine', bad]],
  },
  {
    name: 'evidence files',
    good: async () => [join(SAMPLE_FOLDER, 'evidence.yaml'), good('evidence.yaml')],
    spoil: spoiledText,
    extension: '.yaml',
    commands: (bad) => [
      [
        'measure',
        '--points',
        good('points.csv'),
        '--program',
        SAMPLE_PROGRAM,
        '--evidence',
        bad,
        '--out',
        'out',
        ...PLAIN,
      ],
    ],
  },
  {
    name: 'measurements',
    good: async () => [good('measurement.json'), good('made.json')],
    spoil: spoiledJson,
    extension: '.json',
    commands: (bad) => [
      ['report', bad, '--out', 'out', ...PLAIN],
      ['compare', good('measurement.json'), bad, '--check'],
      ['compare', bad, good('made.json'), '--force', '--json'],
      ['compare', good('measurement.json'), bad, good('made.json'), '--regions', '--force'],
      [...fixture(), '--layout', good('layout.yaml'), '--measurement', bad, '--check', ...PLAIN],
      ['propose', bad, '--machine', join(SAMPLE_FOLDER, 'machine.yaml')],
      ['compensate', SAMPLE_PROGRAM, '--measurement', bad, '--out', 'out.ngc', ...PLAIN],
      ['log', 'add', bad, '--history', 'history.sqlite', '--machine-name', 'm', ...PLAIN],
      ['log', 'list', '--history', 'history.sqlite'],
    ],
  },
  {
    name: 'plan records',
    good: async () => [good('plan/plan.json'), good('flow/plan.json')],
    spoil: spoiledJson,
    extension: '.json',
    commands: (bad) => [
      ['measure', '--points', good('points.csv'), '--grid', bad, '--out', 'out', ...PLAIN],
      ['forecast', '--grid', bad, '--photos', '2 overhead 2', ...PLAIN],
    ],
  },
  {
    name: 'history exports',
    good: async () => [good('export.json')],
    spoil: spoiledJson,
    extension: '.json',
    commands: (bad) => [
      ['log', 'import', bad, '--history', 'history.sqlite'],
      ['log', 'list', '--history', 'history.sqlite'],
      ['log', 'export', '--format', 'csv', '--history', 'history.sqlite'],
      ['drift', '--history', 'history.sqlite'],
    ],
  },
  {
    name: 'histories',
    good: async () => [good('history.sqlite')],
    spoil: spoiledBytes,
    extension: '.sqlite',
    commands: (bad) => [
      ['log', 'list', '--history', bad],
      ['log', 'show', '1', '--history', bad],
      ['log', 'export', '--history', bad],
      ['drift', '--history', bad],
      ['log', 'add', good('measurement.json'), '--history', bad, '--machine-name', 'm', ...PLAIN],
    ],
  },
  {
    name: 'layouts of fixtures',
    good: async () => [good('layout.yaml'), good('layout.json'), good('holes.yaml')],
    spoil: fc.oneof(spoiledText, spoiledNumbers, spoiledJson, spoiledJson),
    extension: '.yaml',
    commands: (bad) => [
      [...fixture(), '--layout', bad, '--program', good('holes.ngc'), '--check', ...PLAIN],
      ['fixture', good('seen.jpg'), '--layout', bad, '--measurement', good('seen.json'), ...PLAIN],
    ],
  },
  {
    name: 'tables of fixture points',
    good: async () => [good('probed.csv'), good('probed-true.csv')],
    spoil: fc.oneof(spoiledText, spoiledNumbers),
    extension: '.csv',
    commands: (bad) => [
      ['fixture', '--layout', good('layout.yaml'), '--points', bad, '--check', ...PLAIN],
      [
        ...['fixture', '--layout', good('layout.yaml'), '--points', bad, ...PLAIN],
        ...['--measurement', good('measurement.json'), '--units', 'in', '--out', 'out'],
      ],
    ],
  },
  {
    name: 'views of measurements',
    good: async () => [good('seen.json')],
    spoil: spoiledJson,
    extension: '.json',
    commands: (bad) => [
      [
        ...['fixture', good('seen.jpg'), '--layout', good('layout.yaml'), '--measurement', bad],
        ...['--json', ...PLAIN],
      ],
    ],
  },
  {
    name: 'words of options',
    good: async () => OPTIONS.map((_, i) => good(`option-${i}.txt`)),
    spoil: fc.oneof(spoiledText, spoiledNumbers, spoiledNumbers),
    extension: '.txt',
    commands: (_, text, which) => [[...optionCommand(OPTIONS[which]![0]), text, ...PLAIN]],
  },
  {
    name: 'tables of points',
    good: async () => [good('points.csv')],
    spoil: spoiledText,
    extension: '.csv',
    commands: (bad) => [
      ['measure', '--points', bad, '--program', SAMPLE_PROGRAM, '--out', 'out', ...PLAIN],
    ],
  },
  {
    name: 'tables of image points',
    good: async () => [good('image-points.csv')],
    spoil: spoiledText,
    extension: '.csv',
    commands: (bad) => [
      [
        ...['measure', '--image-points', bad, '--image-size', '4000x3000'],
        ...['--program', SAMPLE_PROGRAM, '--out', 'out', ...PLAIN],
      ],
    ],
  },
  {
    name: 'pictures',
    good: async () =>
      ['jpg', 'png', 'webp', 'gif', 'tif', 'avif', 'bmp'].map((end) => good(`p.${end}`)),
    spoil: spoiledBytes,
    extension: '.jpg',
    commands: (bad) => [['measure', bad, '--program', SAMPLE_PROGRAM, '--photos-only', ...PLAIN]],
  },
];

describe('whatever file is given', () => {
  it.each(KINDS)(
    '$name end in an exit code of theirs, soon and without control characters',
    async (kind) => {
      const tally = await tryKind(kind);
      if (WANTED > 0) console.info(`seed ${SEED} ${kind.name}: ${JSON.stringify(tally)}`);
      expect(tally.wrong).toEqual([]);
      expect(tally.files).toBeGreaterThanOrEqual(FAST_PER_KIND);
    },
    TIMEOUT_MS,
  );
});

interface Tally {
  files: number;
  runs: number;
  codes: Record<string, number>;
  slowestMs: number;
  mostRssMb: number;
  /** More than half of what is allowed. */
  slow: string[];
  wrong: string[];
}

const MOST_WRONG = 40;

async function tryKind(kind: Kind): Promise<Tally> {
  const tally: Tally = {
    files: 0,
    runs: 0,
    codes: {},
    slowestMs: 0,
    mostRssMb: 0,
    slow: [],
    wrong: [],
  };
  const sources = await Promise.all((await kind.good()).map((path) => readFile(path)));
  const numRuns = WANTED > 0 ? Math.ceil(WANTED / KINDS.length) : FAST_PER_KIND;
  const draws = fc.sample(fc.tuple(fc.nat(), kind.spoil), { seed: SEED, numRuns });
  for (const [which, spoil] of draws) {
    const source = which % sources.length;
    const bytes = spoil(sources[source]!);
    const work = await mkdtemp(join(folder.path, 'run-'));
    const bad = join(work, `bad${kind.extension}`);
    await writeFile(bad, bytes);
    tally.files += 1;
    for (const command of kind.commands(bad, bytes.toString('utf8'), source)) {
      const answer = await server.run(command.map((word) => placeIn(work, word)));
      tally.runs += 1;
      tally.codes[answer.code] = (tally.codes[answer.code] ?? 0) + 1;
      tally.slowestMs = Math.max(tally.slowestMs, Math.round(answer.ms));
      tally.mostRssMb = Math.max(tally.mostRssMb, Math.round(answer.rssMb));
      if (answer.ms > MOST_MS / 2) tally.slow.push(`${command[0]} ${await keep(bytes, kind)}`);
      const trouble = troubleOf(answer);
      if (trouble === undefined) continue;
      const kept = await keep(bytes, kind);
      if (tally.wrong.length < MOST_WRONG) tally.wrong.push(`${command[0]} ${kept}: ${trouble}`);
    }
    const left = (await readdir(work, { recursive: true })).filter((name) =>
      /pending|\.part$|\.new-/.test(name),
    );
    if (left.length > 0) tally.wrong.push(`left behind: ${left.join(', ')}`);
    await rm(work, { recursive: true });
  }
  return tally;
}

/** Outputs go to the folder of the one file. */
function placeIn(work: string, word: string): string {
  return /^(?:out2?|out\.ngc|history\.sqlite)$/.test(word) ? join(work, word) : word;
}

function troubleOf({
  code,
  stdout,
  stderr,
  ms,
}: Awaited<ReturnType<HostileServer['run']>>): string | undefined {
  if (!CODES.includes(code)) return `${code}: ${stderr.slice(0, 700)}`;
  if (ms > MOST_MS) return `took ${Math.round(ms)} ms`;
  if (ACTS.test(stdout) || ACTS.test(stderr)) return 'printed a control character';
  // 1 and 4 are answers to --check, which a result goes with.
  if ((code === 2 || code === 3) && stderr === '') return 'said nothing';
  if ((code === 1 || code === 4) && stdout === '') return 'gave no result';
  return undefined;
}

/** For whoever mends it: only where many are tried. */
async function keep(bytes: Buffer, { name, extension }: Kind): Promise<string> {
  const place = process.env.GANTRUE_KEEP;
  if (place === undefined) return '';
  await mkdir(place, { recursive: true });
  const path = join(
    place,
    `${name.replaceAll(' ', '-')}-${(await readdir(place)).length}${extension}`,
  );
  await writeFile(path, bytes);
  return path;
}

async function writeGoodFiles(): Promise<void> {
  const nodes = [0, 120, 240, 360, 480, 600, 720].flatMap((x) =>
    [0, 120, 240, 360, 480].map((y) => [x, y]),
  );
  const points = nodes.map(([x, y]) =>
    [x, y, 1.001 * x! + 0.0008 * y!, 0.999 * y!, 0.05].join(','),
  );
  await writeFile(good('points.csv'), ['x,y,X,Y,u', ...points, ''].join('\n'));
  const seen = [0, 1, 2].flatMap((k) =>
    nodes.map(([x, y]) => {
      const w = 1 + (k - 1) * 0.0002 * x! + 0.0001 * y!;
      return [`photo-${k}`, x, y, (600 + 3 * x!) / w, (2300 - 4 * y!) / w, 0.1].join(',');
    }),
  );
  await writeFile(good('image-points.csv'), ['photo,x,y,u,v,sigma', ...seen, ''].join('\n'));
  await writeFile(
    good('evidence.yaml'),
    [
      ...[
        'taken: 2026-11-20',
        'temperature: 19.5',
        'humidity: 48',
        'tape: { class: II, reading: 0.2 }',
      ],
      ...['lengths:', '  - { from: [0, 0], to: [720, 0], length: 721.1, u: 0.3 }'],
      ...[
        'squareCheck: { along: x, run: 300, deviation: 0.12, u: 0.02 }',
        'notes: belt tightened',
        '',
      ],
    ].join('\n'),
  );
  await Promise.all(OPTIONS.map(([, word], i) => writeFile(good(`option-${i}.txt`), word)));
  await writeFixtureFiles();
  const made = makeMeasurement({ machine: 'made' });
  made.proposals = propose(made, undefined, undefined);
  await writeFile(good('made.json'), JSON.stringify(made));
  await run(['plan', '--travel', '820x580', '--out', good('plan')]);
  await run(['plan', '--travel', '820x580', '--form', 'parametric', '--out', good('flow')]);
  const machine = ['--machine', join(SAMPLE_FOLDER, 'machine.yaml')];
  const measured = [
    'measure',
    '--points',
    good('points.csv'),
    '--program',
    SAMPLE_PROGRAM,
    ...machine,
  ];
  await run([...measured, '--evidence', good('evidence.yaml'), '--out', good('measured')]);
  await copyFile(good('measured/measurement.json'), good('measurement.json'));
  const history = ['--history', good('history.sqlite')];
  await run(['log', 'add', good('measurement.json'), '--machine-name', 'm', ...history]);
  await run(['log', 'event', 'belt tightened', '--machine-name', 'm', ...history]);
  await run(['log', 'export', '--out', good('export.json'), ...history]);
  // Large enough to be read, and nothing to be found in it: the readers are on trial.
  const small = sharp(await readFile(samplePhoto(1)))
    .resize(560)
    .blur(25)
    .keepExif();
  const plain = await small.clone().raw().toBuffer({ resolveWithObject: true });
  await Promise.all([
    small.clone().jpeg().toFile(good('p.jpg')),
    small.clone().png().toFile(good('p.png')),
    small.clone().webp().toFile(good('p.webp')),
    small.clone().gif().toFile(good('p.gif')),
    small.clone().tiff().toFile(good('p.tif')),
    small.clone().avif({ effort: 0 }).toFile(good('p.avif')),
    writeFile(good('p.bmp'), bmpOf(plain.data, plain.info.width, plain.info.height)),
  ]);
}

/** A fixture on the board of the sample photos, and how one of them, made small, looks at the board. */
async function writeFixtureFiles(): Promise<void> {
  const features = [
    { name: 'A', kind: 'hole', x: 75, y: 75, diameter: 10, tolerance: 0.3 },
    { name: 'B', kind: 'pin', x: 325, y: 75, diameter: 8, height: 12, heightU: 0.5, role: 'round' },
    { name: 'C', kind: 'dowel', x: 325, y: 225, role: 'slotted', scatter: 0.05, diameter: 8 },
    { name: 'D', kind: 'insert', x: 75, y: 225, diameter: 8, counterbore: { diameter: 12 } },
    { name: 'E', kind: 'edge', from: [60, 240], to: [300, 240] },
    { name: 'F', kind: 'corner', x: 400, y: 240, angle: 180, opening: 90, arm: 20 },
  ];
  const layout = { name: 'jig', units: 'mm', clearance: 0.02, tolerance: 0.2, search: 3, features };
  await writeFile(good('layout.json'), JSON.stringify(layout));
  await writeFile(good('layout.yaml'), stringify(layout));
  const drilled = [60, 180, 300].map((x) => `G81 X${x} Y${x / 2} Z-6 R2 F200`);
  await writeFile(
    good('holes.ngc'),
    ['G21 G90 G0 Z5', 'M3 S9000', ...drilled, 'M2', ''].join('\n'),
  );
  const holes = { kind: 'insert', diameter: 6, counterbore: { diameter: 9, depth: 2 }, height: 1 };
  await writeFile(good('holes.yaml'), stringify({ name: 'inserts', units: 'in', holes }));
  const rows = [
    ...['A,75.1,75.2,0.01', 'B,325.1,75.1,0.01', 'C,325.0,225.3,0.02', 'D,75.2,225.1,0.02'],
    ...['E,60,240.2,0.01', 'E,180,240.1,0.01', 'E,300,240.3,0.01', 'F,400.2,240.1,0.02'],
  ];
  await writeFile(good('probed.csv'), ['name,x,y,u', ...rows, ''].join('\n'));
  await writeFile(good('probed-true.csv'), ['name,X,Y,u', ...rows, ''].join('\n'));
  const { text, strokes } = gridProgram({ xMm: evenPositions(9, 50), yMm: evenPositions(7, 50) });
  await writeFile(good('grid.ngc'), text);
  const fixture = features.flatMap(({ kind, x, y, diameter, height }): BoardObject[] => {
    if (x === undefined || diameter === undefined) return [];
    const isRaised = kind === 'pin' || kind === 'dowel';
    const tone = isRaised ? ([0.75, 0.76, 0.78] as const) : ([0.03, 0.03, 0.03] as const);
    const shape = { centreMm: [x, y], sizeMm: [diameter, diameter], angleRad: 0 } as const;
    return [{ ...shape, kind: isRaised ? 'pin' : 'hole', heightMm: height ?? 0, tone }];
  });
  const options = { widthPx: 1200, heightPx: 900, rolls: [0], fixture, objects: false };
  const simulated = await simulate({ strokes, seed: 3, outDir: good('seen'), options });
  await copyFile(simulated.files.find((file) => file.endsWith('.jpg'))!, good('seen.jpg'));
  const program = ['--program', good('grid.ngc')];
  await run(['measure', good('seen.jpg'), ...program, '--out', good('seen-measured')]);
  const seen = JSON.parse(await readFile(good('seen-measured/measurement.json'), 'utf8'));
  // What the fixture does not ask for would only take hits from what it asks for.
  for (const key of ['deviations', 'proposals', 'residuals', 'findings']) {
    if (Array.isArray(seen[key])) seen[key] = [];
  }
  await writeFile(good('seen.json'), JSON.stringify(seen));
  await run([
    ...['fixture', good('seen.jpg'), '--layout', good('layout.yaml')],
    ...['--measurement', good('seen.json')],
  ]);
}

async function run(args: readonly string[]): Promise<void> {
  const ran = await runGantrue(args, folder.path);
  if (ran.code !== 0) throw new Error(`${args.join(' ')}: ${ran.stderr}`);
}

/** 24 bits a pixel, rows from below, filled up to four bytes. */
function bmpOf(rgb: Buffer, width: number, height: number): Buffer {
  const row = Math.ceil((3 * width) / 4) * 4;
  const bytes = Buffer.alloc(54 + row * height);
  bytes.write('BM', 'latin1');
  bytes.writeUInt32LE(bytes.length, 2);
  bytes.writeUInt32LE(54, 10);
  bytes.writeUInt32LE(40, 14);
  bytes.writeInt32LE(width, 18);
  bytes.writeInt32LE(height, 22);
  bytes.writeUInt16LE(1, 26);
  bytes.writeUInt16LE(24, 28);
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      const from = 3 * ((height - 1 - y) * width + x);
      for (let c = 0; c < 3; c += 1) bytes[54 + y * row + 3 * x + c] = rgb[from + 2 - c]!;
    }
  }
  return bytes;
}
