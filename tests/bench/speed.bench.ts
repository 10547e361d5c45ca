/**
 * How long photos take, step by step, and the most memory; beside it the decoding of the same photos alone, and what
 * somebody would script with a general-purpose library: threshold, lines, homographies, one calibration. All in one run, so that the ratios hold on a busy machine too. `SETS=lines` for the sets whose title matches;
 * photos that are not among the samples are rendered once, into a folder of the system's temporary one.
 */

import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { bench, describe } from 'vitest';
import type * as Library from '../../src/index.js';

const ROOT = new URL('../..', import.meta.url).pathname;
const GANTRUE = join(ROOT, 'dist/bin/gantrue.js');
const SAMPLES = join(ROOT, 'samples/sign-shop');
const CACHE = join(tmpdir(), 'gantrue-bench-photos');
/** Times that each start-up is measured; the least counts. */
const STARTS = 7;
const CORES = availableParallelism();
const wanted = new RegExp(process.env.SETS ?? '');

interface PhotoSet {
  readonly title: string;
  readonly photos: number;
  readonly megapixels: number;
  readonly lines: number;
  readonly folder: string;
  /** What is rendered where the folder is not there. */
  readonly render?: readonly string[];
}

/** Seed 7 lays the board's edge just one gap beside the outermost line, where it once was counted as a line. */
const SEED = '7';

const PLAIN = { photos: 1, megapixels: 12, lines: 32, folder: SAMPLES };

function rendered(title: string, lattice: string, size: string, photos = 1): PhotoSet {
  const [nx, ny] = lattice.split(/[x,]/).map(Number);
  const [wide, high] = size.split('x').map(Number);
  return {
    title,
    photos,
    megapixels: (wide! * high!) / 1e6,
    lines: nx! + ny!,
    folder: join(CACHE, `${lattice}-${size}-${photos}-${SEED}`.replaceAll(',', '-')),
    render: ['--lattice', lattice, '--photo-size', size, '--photos', String(photos)],
  };
}

const SETS: readonly PhotoSet[] = [
  { ...PLAIN, title: '1 photo, 12 megapixels' },
  { ...PLAIN, title: '8 photos, 12 megapixels', photos: 8 },
  rendered('32 photos, 12 megapixels', '19x13,50,50', '4000x3000', 32),
  rendered('1 photo, 3 megapixels, rendered', '19x13,50,50', '2000x1500'),
  rendered('1 photo, 12 megapixels, rendered', '19x13,50,50', '4000x3000'),
  rendered('1 photo, 48 megapixels, rendered', '19x13,50,50', '8000x6000'),
  rendered('1 photo, 25 × 17 lines', '25x17,40,40', '4000x3000'),
  rendered('1 photo, 80 × 80 lines', '80x80,12,12', '4000x3000'),
].filter(({ title }) => wanted.test(title));

function filesOf({ folder, photos, render }: PhotoSet): string[] {
  if (render !== undefined && !existsSync(join(folder, 'truth.json'))) {
    execFileSync(process.execPath, [
      ...[GANTRUE, 'simulate', '--out', folder, '--seed', SEED, '--force', '--quiet', ...render],
    ]);
  }
  return Array.from({ length: photos }, (_, i) => join(folder, `photo-${i + 1}.jpg`));
}

/** Runs the built library in this thread, photo after photo; seconds per step. */
async function timeSteps(set: PhotoSet, out: string): Promise<Record<string, string>> {
  const { survey, writeResults } = (await import(
    join(ROOT, 'dist/src/index.js')
  )) as typeof Library;
  const spent = new Map<string, number>();
  let step = 'other';
  let since = performance.now();
  const turnTo = (next: string) => {
    const now = performance.now();
    spent.set(step, (spent.get(step) ?? 0) + (now - since) / 1000);
    [step, since] = [next, now];
  };
  const context = { now: () => new Date(), toolVersion: 'bench' };
  const surveyed = await survey(
    {
      photoFiles: filesOf(set),
      markedBy: [{ kind: 'program', file: join(set.folder, 'bed-grid.ngc') }],
      marking: 'auto',
      blockDelete: false,
      known: [],
    },
    { ...context, onProgress: (progress) => turnTo(progress.step) },
  );
  if (!surveyed.ok) return { failed: surveyed.failure.message };
  turnTo('writing');
  await writeResults(surveyed.value, out, { force: true, rectified: false, sourcePaths: [] });
  turnTo('end');
  const of = (name: string) => (spent.get(name) ?? 0).toFixed(2);
  return {
    'decode, s': of('reading'),
    'lattice, s': of('finding'),
    'segments, s': of('measuring'),
    'adjustment, s': of('adjusting'),
    'pictures and report, s': of('writing'),
  };
}

/** Prints wall time, time of all cores (s) and peak memory (MB) of a process as its last line. */
const REPORT = `import { isMainThread } from 'node:worker_threads';
if (isMainThread) process.on('exit', () => {
  const { userCPUTime, systemCPUTime, maxRSS } = process.resourceUsage();
  const figures = [performance.now() / 1e3, (userCPUTime + systemCPUTime) / 1e6, maxRSS / 1024];
  process.stderr.write('\\n' + JSON.stringify(figures));
});`;

/** Decodes all photos at once to grey, as the decoder's own threads share them out. */
const DECODE = `import sharp from 'sharp';
const decode = (file) => sharp(file).greyscale().raw().toBuffer();
const files = process.argv.slice(1);
let next = 0;
const lane = async () => { while (next < files.length) await decode(files[next++]); };
await Promise.all(Array.from({ length: ${CORES} }, lane));`;

/**
 * Grey, threshold at full size, lines at 1500 px, the two commonest directions, a homography for each photo, and a
 * calibration from crossings that lie by it. Only its time is looked at.
 */
const SCRIPT = `import sharp from 'sharp';
import { createRequire } from 'node:module';
const { cv } = createRequire(process.cwd() + '/package.json')('opencv-wasm');
delete cv.then;
const [nx, ny] = [19, 13];
const objects = new cv.MatVector(), images = new cv.MatVector();
let size;
for (const file of process.argv.slice(1)) {
  const { data, info } = await sharp(file).greyscale().raw().toBuffer({ resolveWithObject: true });
  const grey = new cv.Mat(info.height, info.width, cv.CV_8UC1);
  grey.data.set(data);
  const marks = new cv.Mat(), small = new cv.Mat(), lines = new cv.Mat();
  cv.adaptiveThreshold(grey, marks, 255, cv.ADAPTIVE_THRESH_MEAN_C, cv.THRESH_BINARY_INV, 51, 10);
  const scale = 1500 / Math.max(info.width, info.height);
  cv.resize(marks, small, new cv.Size(Math.round(info.width * scale), Math.round(info.height * scale)), 0, 0, cv.INTER_AREA);
  cv.threshold(small, small, 64, 255, cv.THRESH_BINARY);
  cv.HoughLinesP(small, lines, 1, Math.PI / 720, 80, 60, 12);
  const families = [[], []];
  for (let i = 0; i < lines.rows; i++) {
    const [x1, y1, x2, y2] = lines.data32S.subarray(4 * i, 4 * i + 4);
    families[Math.abs(x2 - x1) < Math.abs(y2 - y1) ? 0 : 1].push([(x1 + x2) / 2, (y1 + y2) / 2]);
  }
  const ends = families.map((all, axis) => {
    const at = all.map((place) => place[axis] / scale).sort((a, b) => a - b);
    return [at[0] ?? 100, at.at(-1) ?? 1000];
  });
  const [[u0, u1], [v0, v1]] = ends;
  const from = cv.matFromArray(4, 1, cv.CV_32FC2, [0, 0, nx - 1, 0, nx - 1, ny - 1, 0, ny - 1]);
  const to = cv.matFromArray(4, 1, cv.CV_32FC2, [u0 + 40, v1, u1, v1 - 30, u1 - 50, v0, u0, v0 + 20]);
  const h = cv.findHomography(from, to);
  const m = h.data64F, board = [], seen = [];
  for (let j = 0; j < ny; j++) for (let i = 0; i < nx; i++) {
    const w = m[6] * i + m[7] * j + m[8];
    board.push(i, j, 0);
    seen.push((m[0] * i + m[1] * j + m[2]) / w + Math.sin(7 * i + 3 * j) / 4, (m[3] * i + m[4] * j + m[5]) / w + Math.cos(5 * i + j) / 4);
  }
  objects.push_back(cv.matFromArray(board.length / 3, 1, cv.CV_32FC3, board));
  images.push_back(cv.matFromArray(seen.length / 2, 1, cv.CV_32FC2, seen));
  size = new cv.Size(info.width, info.height);
  for (const mat of [grey, marks, small, lines, from, to, h]) mat.delete();
}
const mats = Array.from({ length: 5 }, () => new cv.Mat());
const [rotations, translations] = [new cv.MatVector(), new cv.MatVector()];
cv.calibrateCameraExtended(objects, images, size, mats[0], mats[1], rotations, translations, mats[2], mats[3], mats[4]);`;

interface Used {
  readonly wall: number;
  readonly cores: number;
  readonly peak: number;
}

function watch(...args: readonly string[]): Used {
  const { stderr, status } = spawnSync(
    process.execPath,
    [`--import=data:text/javascript,${encodeURIComponent(REPORT)}`, ...args],
    { cwd: ROOT, encoding: 'utf8', maxBuffer: 2 ** 28 },
  );
  // What it costs to find out that a photo is of no use is worth telling as well.
  if (status !== 0) console.log(stderr);
  const [wall, cores, peak] = JSON.parse(stderr.trim().split('\n').at(-1)!);
  return { wall, cores, peak };
}

function startUp(...args: readonly string[]): Used {
  const all = Array.from({ length: STARTS }, () => watch(...args));
  return all.reduce((best, one) => (one.cores < best.cores ? one : best));
}

/** Exponent of the growth of time, by least squares in the logarithms. */
function exponent(points: readonly (readonly [size: number, seconds: number])[]): string {
  const logs = points.map(([x, y]) => [Math.log(x), Math.log(y)] as const);
  const mean = (k: 0 | 1) => logs.reduce((sum, one) => sum + one[k], 0) / logs.length;
  const [mx, my] = [mean(0), mean(1)];
  const slope =
    logs.reduce((sum, [x, y]) => sum + (x - mx) * (y - my), 0) /
    logs.reduce((sum, [x]) => sum + (x - mx) ** 2, 0);
  return slope.toFixed(2);
}

describe('speed', async () => {
  const out = mkdtempSync(join(tmpdir(), 'gantrue-bench-'));
  const measured = new Map<PhotoSet, number>();
  try {
    for (const set of SETS) {
      const files = filesOf(set);
      const steps = await timeSteps(set, join(out, 'steps'));
      const program = ['--program', join(set.folder, 'bed-grid.ngc')];
      const decoding = watch('--input-type=module', '-e', DECODE, '--', ...files);
      const scripted = watch('--input-type=module', '-e', SCRIPT, '--', ...files);
      const run = watch(
        ...[GANTRUE, 'measure', ...files, ...program, '--out', join(out, 'whole'), '--force'],
        '--quiet',
      );
      measured.set(set, run.cores);
      // As it goes: the last sets take minutes.
      console.log(`${set.title}: one thread, step by step; the command on ${CORES} cores`);
      console.table([steps]);
      const whole = {
        'decoding alone, s': decoding.wall.toFixed(2),
        'all cores': decoding.cores.toFixed(2),
        'scripted, s': scripted.wall.toFixed(2),
        'script’s cores': scripted.cores.toFixed(2),
        'measured, s': run.wall.toFixed(2),
        'its cores': run.cores.toFixed(2),
        'over decoding': (run.wall / decoding.wall).toFixed(1),
        'cores over cores': (run.cores / decoding.cores).toFixed(1),
        'peak, MB': run.peak.toFixed(0),
      };
      console.table([whole]);
    }
  } finally {
    rmSync(out, { recursive: true, force: true });
  }
  const growth = (by: keyof PhotoSet, ...parts: readonly string[]) => {
    const points = [...measured].flatMap(([set, s]) =>
      parts.some((part) => set.title.includes(part)) ? [[Number(set[by]), s] as const] : [],
    );
    if (new Set(points.map(([size]) => size)).size > 1)
      console.log(`time of all cores grows with ${by} to ${exponent(points)}`);
  };
  growth('photos', 'photos, 12', '1 photo, 12 megapixels');
  growth('megapixels', 'megapixels, rendered');
  growth('lines', '12 megapixels, rendered', 'lines');
  const empty = startUp('-e', '');
  for (const option of ['--help', '--version']) {
    const { cores } = startUp(GANTRUE, option);
    console.log(
      `gantrue ${option}: ${(cores * 1000).toFixed(0)} ms, an empty script ${(empty.cores * 1000).toFixed(0)} ms: × ${(cores / empty.cores).toFixed(1)}`,
    );
  }
  bench('gantrue --version', () => void execFileSync(process.execPath, [GANTRUE, '--version']), {
    iterations: 3,
    time: 0,
    warmupIterations: 0,
    warmupTime: 0,
  });
});
