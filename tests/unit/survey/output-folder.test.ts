import { mkdir, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { unwrap } from '../../../src/quantity/index.js';
import { readMeasurement } from '../../../src/survey/index.js';
import {
  type OutputFile,
  type OutputOptions,
  writeOutputFolder,
} from '../../../src/survey/output-folder.js';
import { makeMeasurement } from '../report/make-measurement.js';

let base = '';
beforeEach(async () => {
  base = await mkdtemp(join(tmpdir(), 'gantrue-output-'));
});
afterEach(async () => {
  await rm(base, { recursive: true, force: true });
});

/** A set whose files all carry the same word; `overlay` is the photo's picture. */
function makeSet(word: string, overlay = 'overlay-a.jpg'): OutputFile[] {
  const measurement = makeMeasurement({ machine: word });
  measurement.photos = [{ file: 'a.jpg', used: true, overlay }];
  return [
    { name: 'measurement.json', content: JSON.stringify(measurement) },
    { name: 'report.html', content: word },
    { name: 'deviations.csv', content: word },
    { name: overlay, content: new TextEncoder().encode(word) },
  ];
}

const PLAIN: OutputOptions = { force: false, sourcePaths: [] };
const FORCE: OutputOptions = { force: true, sourcePaths: [] };

async function failureOf(files: OutputFile[], out: string, options = PLAIN) {
  const outcome = await writeOutputFolder(out, files, options);
  if (outcome.ok) throw new Error('no failure');
  return outcome.failure;
}

async function text(...path: string[]): Promise<string> {
  return readFile(join(base, ...path), 'utf8');
}

describe('a folder of results', () => {
  it('is made with all its parents, and nothing else is left beside it', async () => {
    const out = join(base, 'a', 'b');
    const written = unwrap(await writeOutputFolder(out, makeSet('one'), PLAIN));
    expect(written).toEqual(
      ['measurement.json', 'report.html', 'deviations.csv', 'overlay-a.jpg'].map((name) =>
        join(out, name),
      ),
    );
    expect(await readdir(join(base, 'a'))).toEqual(['b']);
    expect((await readdir(out)).sort()).toEqual([
      'deviations.csv',
      'measurement.json',
      'overlay-a.jpg',
      'report.html',
    ]);
  });

  it('with results in it is left as it is without force', async () => {
    const out = join(base, 'out');
    unwrap(await writeOutputFolder(out, makeSet('one'), PLAIN));
    const failure = await failureOf(makeSet('two'), out);
    expect(failure.code).toBe('OUTPUT_EXISTS');
    expect(failure.hint).toContain('--force');
    expect(await text('out', 'report.html')).toBe('one');
  });

  it('with force gets the new set; pictures of the old one go, files of others stay', async () => {
    const out = join(base, 'out');
    unwrap(await writeOutputFolder(out, makeSet('one', 'overlay-old.jpg'), PLAIN));
    await writeFile(join(out, 'notes.txt'), 'mine');
    await writeFile(join(out, 'overlay-mine.jpg'), 'mine');
    unwrap(await writeOutputFolder(out, makeSet('two', 'overlay-new.jpg'), FORCE));
    expect((await readdir(out)).sort()).toEqual([
      'deviations.csv',
      'measurement.json',
      'notes.txt',
      'overlay-mine.jpg',
      'overlay-new.jpg',
      'report.html',
    ]);
    expect(await text('out', 'report.html')).toBe('two');
    expect(await text('out', 'overlay-mine.jpg')).toBe('mine');
  });

  it('never replaces a file that no result of ours names, even with force', async () => {
    await mkdir(join(base, 'out'));
    await writeFile(join(base, 'out', 'report.html'), 'mine');
    const failure = await failureOf(makeSet('two'), join(base, 'out'), FORCE);
    expect(failure.code).toBe('OUTPUT_EXISTS');
    expect(failure.message).toContain('report.html');
    expect(await text('out', 'report.html')).toBe('mine');
    expect(await readdir(join(base, 'out'))).toEqual(['report.html']);
  });

  it('does not follow names with folders that a doctored result lists', async () => {
    const out = join(base, 'out');
    const set = makeSet('one');
    const doctored = JSON.parse(String(set[0]?.content));
    doctored.photos[0].overlay = '../overlay-precious.jpg';
    await mkdir(out);
    await writeFile(join(out, 'measurement.json'), JSON.stringify(doctored));
    await writeFile(join(base, 'overlay-precious.jpg'), 'precious');
    unwrap(await writeOutputFolder(out, makeSet('two'), FORCE));
    expect(await text('overlay-precious.jpg')).toBe('precious');
  });

  it('may lie beside files of others that do not stand in the way', async () => {
    await mkdir(join(base, 'out'));
    await writeFile(join(base, 'out', 'photo.jpg'), 'mine');
    unwrap(await writeOutputFolder(join(base, 'out'), makeSet('one'), PLAIN));
    expect(await readdir(join(base, 'out'))).toHaveLength(5);
  });

  it('is refused where an input would be written over', async () => {
    const source = join(base, 'overlay-a.jpg');
    await writeFile(source, 'photo');
    const options = { force: true, sourcePaths: [source] };
    expect((await failureOf(makeSet('one'), base, options)).code).toBe('OUTPUT_EXISTS');
    expect(await text('overlay-a.jpg')).toBe('photo');
  });

  it('is refused where a file stands in its place or in that of a parent', async () => {
    await writeFile(join(base, 'file'), '');
    expect((await failureOf(makeSet('one'), join(base, 'file'))).code).toBe('OUTPUT_UNWRITABLE');
    expect((await failureOf(makeSet('one'), join(base, 'file', 'sub'))).code).toBe(
      'OUTPUT_UNWRITABLE',
    );
  });

  it('that a killed run left before its list was complete holds the old set', async () => {
    const out = join(base, 'out');
    unwrap(await writeOutputFolder(out, makeSet('one'), PLAIN));
    const pending = join(out, '.gantrue-pending-999999999-00000000');
    await mkdir(pending);
    await writeFile(join(pending, 'report.html'), 'half');
    const { measurement } = unwrap(await readMeasurement(out));
    expect(measurement.machine).toBe('one');
    expect(await text('out', 'report.html')).toBe('one');
    expect(await readdir(out)).toHaveLength(4);
  });

  it('that a killed run left while files were moved becomes the new set', async () => {
    const out = join(base, 'out');
    unwrap(await writeOutputFolder(out, makeSet('one', 'overlay-old.jpg'), PLAIN));
    const pending = join(out, '.gantrue-pending-999999999-00000000');
    await mkdir(pending);
    // The first file has been moved already.
    const [first, ...rest] = makeSet('two', 'overlay-new.jpg');
    await writeFile(join(out, first!.name), first!.content);
    for (const { name, content } of rest) await writeFile(join(pending, name), content);
    const names = [first!, ...rest].map(({ name }) => name);
    const list = { names, obsolete: ['overlay-old.jpg'] };
    await writeFile(join(pending, 'complete.json'), JSON.stringify(list));
    const { measurement } = unwrap(await readMeasurement(join(out, 'measurement.json')));
    expect(measurement.machine).toBe('two');
    expect((await readdir(out)).sort()).toEqual([
      'deviations.csv',
      'measurement.json',
      'overlay-new.jpg',
      'report.html',
    ]);
    expect(await text('out', 'report.html')).toBe('two');
    expect(await text('out', 'overlay-new.jpg')).toBe('two');
  });

  it('that was given up before it appeared leaves nothing once a new one is written', async () => {
    await mkdir(join(base, '.out.gantrue-pending-999999999-00000000'));
    unwrap(await writeOutputFolder(join(base, 'out'), makeSet('one'), PLAIN));
    expect(await readdir(base)).toEqual(['out']);
  });
});

describe('a saved measurement', () => {
  it('is refused with the reason where it is something else', async () => {
    const refuse = async (content: string) => {
      await writeFile(join(base, 'measurement.json'), content);
      const outcome = await readMeasurement(base);
      if (outcome.ok) throw new Error('no failure');
      expect(outcome.failure.code).toBe('MEASUREMENT_INVALID');
      return outcome.failure.message;
    };
    expect(await refuse('{')).toContain('no JSON');
    expect(await refuse('null')).toContain('schema');
    expect(await refuse('{"schema":"gantrue/measurement/9"}')).toContain('gantrue/measurement/9');
    expect(await refuse('{"schema":"gantrue/measurement/1"}')).toMatch(/measuredAt.*and \d+ more/s);
  });

  it('that does not exist is named', async () => {
    const outcome = await readMeasurement(join(base, 'none.json'));
    expect(outcome.ok ? '' : outcome.failure.code).toBe('FILE_MISSING');
  });
});

describe('files that say themselves that they are ours', () => {
  it('are replaced when told so, without a record beside them; others of the same name never', async () => {
    const folder = await mkdtemp(join(tmpdir(), 'gantrue-own-'));
    try {
      const files = (text: string) => [{ name: 'table-x.csv', content: text }];
      const table = 'position_mm,forward_mm,reverse_mm\r\n0,0,0\r\n';
      const write = (text: string, force: boolean) =>
        writeOutputFolder(folder, files(text), { force, sourcePaths: [] });
      expect((await write(table, false)).ok).toBe(true);
      expect((await write(table, false)).ok).toBe(false);
      expect((await write(table, true)).ok).toBe(true);
      await writeFile(join(folder, 'table-x.csv'), 'my own table');
      expect((await write(table, true)).ok).toBe(false);
      expect(await readFile(join(folder, 'table-x.csv'), 'utf8')).toBe('my own table');
    } finally {
      await rm(folder, { recursive: true, force: true });
    }
  });
});
