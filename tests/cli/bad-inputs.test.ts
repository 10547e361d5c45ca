import { copyFile, mkdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import sharp, { type Sharp } from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { FAILURE_CODES, type FailureCode } from '../../shared/failure-codes.js';
import { emptyFolder, type Ran, runGantrue } from './run-gantrue.js';
import { SAMPLE_PROGRAM, writeSmallPhoto } from './sample-photos.js';

let folder: Awaited<ReturnType<typeof emptyFolder>>;
let runs = 0;

beforeAll(async () => {
  folder = await emptyFolder();
  const { path } = folder;
  await writeSmallPhoto(1, join(path, 'first.jpg'));
  await writeSmallPhoto(2, join(path, 'second.jpg'));
});

afterAll(() => folder.remove());

describe('gantrue measure refuses', () => {
  it('a photo that is not there', async () => {
    const ran = await measure(['absent.jpg']);
    expectFailure(ran, 'FILE_MISSING', 'absent.jpg: there is no such file');
  });

  it('a text that is called a photo', async () => {
    await writeFile(join(folder.path, 'text.jpg'), 'G21 G90\nG0 X0 Y0\n');
    expectFailure(await measure(['text.jpg']), 'NOT_A_PHOTO', 'text.jpg');
  });

  it('a photo whose file is cut short', async () => {
    const bytes = await readFile(join(folder.path, 'first.jpg'));
    await writeFile(join(folder.path, 'cut.jpg'), bytes.subarray(0, bytes.length >> 2));
    expectFailure(await measure(['cut.jpg']), 'PHOTO_TRUNCATED', 'cut.jpg');
  });

  it('a picture of one grey', async () => {
    await grey(2000, 1500).toFile(join(folder.path, 'blank.jpg'));
    expectFailure(await measure(['blank.jpg']), 'PHOTO_BLANK', 'blank.jpg');
  });

  it('a picture of a few pixels', async () => {
    await writeSmallPhoto(1, join(folder.path, 'tiny.jpg'), { widthPx: 320 });
    expectFailure(await measure(['tiny.jpg']), 'PHOTO_TOO_SMALL', '320');
  });

  it('a header of more megapixels than any phone has', async () => {
    // The size stands behind the mark of the frame: precision, height, width (ITU T.81, B.2.2).
    const bytes = await grey(400, 300).toBuffer();
    const frame = bytes.indexOf(Buffer.from([0xff, 0xc0]));
    bytes.writeUInt16BE(10_000, frame + 5);
    bytes.writeUInt16BE(14_000, frame + 7);
    await writeFile(join(folder.path, 'huge.jpg'), bytes);
    expectFailure(await measure(['huge.jpg']), 'PHOTO_TOO_LARGE', '14000');
  });

  it('a photo far out of focus', async () => {
    await writeSmallPhoto(1, join(folder.path, 'blurred.jpg'), { blurPx: 12 });
    expectFailure(await measure(['blurred.jpg']), 'PHOTO_BLURRED', 'blurred.jpg');
  });

  it('a HEIC picture, and says how the phone saves JPEG', async () => {
    const brand = Buffer.from('\0\0\0\u0018ftypheic\0\0\0\0mif1heic', 'latin1');
    await writeFile(join(folder.path, 'phone.heic'), Buffer.concat([brand, Buffer.alloc(4096)]));
    const ran = await measure(['phone.heic']);
    expectFailure(ran, 'HEIC_UNSUPPORTED', 'phone.heic');
    expect(ran.stderr).toMatch(/hint: .*most compatible/);
  });

  it('a program that marks nothing', async () => {
    await writeFile(join(folder.path, 'air.ngc'), 'G21 G90\nG0 X0 Y0\nG0 X100 Y100\nM2\n');
    const ran = await measure(['first.jpg'], { program: join(folder.path, 'air.ngc') });
    expectFailure(ran, 'PROGRAM_NO_MARKS', 'air.ngc');
  });

  it('the program of another grid', async () => {
    const program = join(folder.path, 'other.ngc');
    await writeFile(program, plainGrid([0, 40, 90, 130, 200, 260, 300], [0, 50, 90, 150, 200]));
    expectFailure(await measure(['first.jpg'], { program }), 'GRID_NOT_FOUND', 'first.jpg');
  });

  it('a length taped in inches and given as millimetres', async () => {
    // 720 mm are 28.35 inches.
    const ran = await measure(['first.jpg'], { more: ['--known', '0,0 720,0 28.39 0.02'] });
    expectFailure(ran, 'UNITS_SUSPECT', '28.39 mm taped where 720.000 mm were commanded');
    expect(ran.stderr).toContain('--units in');
  });

  it('a call without the program', async () => {
    const ran = await runGantrue(['measure', 'first.jpg'], folder.path);
    expectFailure(ran, 'WRONG_CALL', 'expected --program, --grid or --lattice');
  });

  it('a record of a plan that is none', async () => {
    await writeFile(join(folder.path, 'other.json'), '{"schema":"other/1"}');
    const ran = await runGantrue(['measure', 'first.jpg', '--grid', 'other.json'], folder.path);
    expectFailure(ran, 'PLAN_INVALID', 'other.json');
  });

  it('an option that does not exist', async () => {
    const ran = await measure(['first.jpg'], { more: ['--colour'] });
    expectFailure(ran, 'WRONG_CALL', '--colour');
  });

  it('a set in which no photo is of use, and names each of them', async () => {
    await writeFile(join(folder.path, 'note.jpg'), 'no photo');
    const ran = await measure(['absent.jpg', 'note.jpg']);
    expectFailure(ran, 'NO_USABLE_PHOTO', 'none of the photos can be used');
    // What is to be done differs, so each has its own beside it.
    expect(ran.stderr).toMatch(/absent\.jpg: .*\[FILE_MISSING\]\n +to do: \S/);
    expect(ran.stderr).toMatch(
      /note\.jpg: .*\[NOT_A_PHOTO\]\n +to do: give the file as the camera/,
    );
    expect(ran.stderr).toMatch(/hint: what to do about each stands below it\n$/);
  });

  it('a set of photos that all need the same, and says it once', async () => {
    await writeFile(join(folder.path, 'note.jpg'), 'no photo');
    await writeFile(join(folder.path, 'list.jpg'), 'nor this');
    const ran = await measure(['list.jpg', 'note.jpg']);
    expectFailure(ran, 'NO_USABLE_PHOTO', 'none of the photos can be used');
    expect(ran.stderr).not.toContain('to do:');
    expect(ran.stderr.match(/hint: give the file as the camera/g)).toHaveLength(1);
  });
});

describe('gantrue measure of photos with some of no use', () => {
  let ran: Ran;
  const out = () => join(folder.path, 'kept');

  beforeAll(async () => {
    await copyFile(join(folder.path, 'first.jpg'), join(folder.path, 'copy.jpg'));
    await writeFile(join(folder.path, 'words.jpg'), 'no photo');
    ran = await measure(['first.jpg', 'copy.jpg', 'words.jpg', 'second.jpg'], { out: out() });
  });

  it('leaves these out, says why, and measures the rest', async () => {
    expect(ran.code).toBe(0);
    expect(ran.stdout).toContain('2 of 4 photos used');
    const { photos, lostMotion } = JSON.parse(
      await readFile(join(out(), 'measurement.json'), 'utf8'),
    );
    const fates = photos.map((photo: { file: string; used: boolean; code?: string }) => [
      photo.file,
      photo.used,
      photo.code,
    ]);
    expect(fates).toEqual([
      ['first.jpg', true, undefined],
      ['copy.jpg', false, 'PHOTO_DUPLICATE'],
      ['words.jpg', false, 'NOT_A_PHOTO'],
      ['second.jpg', true, undefined],
    ]);
    // The sample machine lags by 0.14 mm; two small photos tell it to a tenth of that.
    expect(Math.abs(lostMotion.y.value - 0.14)).toBeLessThan(0.014);
  });

  it('takes a folder for the pictures in it, and nothing else from there', async () => {
    const photos = join(folder.path, 'photos');
    await mkdir(photos);
    await copyFile(join(folder.path, 'first.jpg'), join(photos, 'photo-2.jpg'));
    await writeFile(join(photos, 'photo-10.jpg'), 'no photo');
    await writeFile(join(photos, 'notes.txt'), 'belt tightened');
    const ran = await measure([photos]);
    expect(ran.code).toBe(0);
    expect(ran.stdout).toContain('1 of 2 photos used');
    const empty = join(folder.path, 'empty');
    await mkdir(empty);
    expectFailure(await measure([empty]), 'NO_USABLE_PHOTO', 'the folder holds no pictures');
  });

  it('says what it does not know without a length', () => {
    expect(ran.stdout).toMatch(/scale X {9}undetermined/);
    expect(ran.stdout).toMatch(
      /steps per unit X, steps per unit\s+Y: undetermined, so nothing is proposed/,
    );
  });

  it('does not touch results that are there without --force', async () => {
    const before = await readFile(join(out(), 'measurement.json'));
    const again = await measure(['first.jpg'], { out: out() });
    expectFailure(again, 'OUTPUT_EXISTS', 'measurement.json');
    expect(again.stderr).toContain('--force');
    expect((await readFile(join(out(), 'measurement.json'))).equals(before)).toBe(true);
  });
});

interface Call {
  readonly program?: string;
  readonly out?: string;
  readonly more?: readonly string[];
}

function measure(photos: readonly string[], call: Call = {}): Promise<Ran> {
  const out = call.out ?? join(folder.path, `out-${runs++}`);
  return runGantrue(
    ['measure', ...photos, '--program', call.program ?? SAMPLE_PROGRAM, '--out', out].concat(
      call.more ?? [],
    ),
    folder.path,
  );
}

/** One line of what and where with its code, a hint, nothing on standard output, the code's exit. */
function expectFailure(ran: Ran, code: FailureCode, words: string): void {
  expect(ran.stderr).toMatch(/^gantrue: /);
  expect(ran.stderr).toContain(words);
  expect(ran.stderr).toContain(`[${code}]`);
  expect(ran.stderr).toContain('\n  hint: ');
  expect(ran.stdout).toBe('');
  expect(ran.code).toBe(FAILURE_CODES[code].exit);
}

function grey(width: number, height: number): Sharp {
  return sharp({ create: { width, height, channels: 3, background: '#888888' } }).jpeg();
}

/** Lines burnt with a laser, all approached from the same side. */
function plainGrid(xMm: readonly number[], yMm: readonly number[]): string {
  const [x1, y1] = [xMm[xMm.length - 1], yMm[yMm.length - 1]];
  const lines = ['G21 G90', 'M4 S0'];
  for (const x of xMm) lines.push(`G0 X${x} Y-8`, `G1 X${x} Y0 S0 F1500`, `G1 X${x} Y${y1} S600`);
  for (const y of yMm) lines.push(`G0 X-8 Y${y}`, `G1 X0 Y${y} S0 F1500`, `G1 X${x1} Y${y} S600`);
  return [...lines, 'M5', 'M2', ''].join('\n');
}
