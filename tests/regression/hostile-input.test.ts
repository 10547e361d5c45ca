/** Inputs that once ended in a fault of the tool, in minutes of work, or in memory for nothing. */

import { copyFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readShapes } from '../../src/correction/read-shape.js';
import { withHistory } from '../../src/history/index.js';
import { connect } from '../../src/history/sqlite.js';
import { openPicture } from '../../src/imaging/open-picture.js';
import { solveNormal } from '../../src/numerics/index.js';
import { failed, type Outcome, success } from '../../src/quantity/index.js';
import { plainText } from '../../src/report/index.js';
import { parseImagePoints } from '../../src/survey/read-image-points.js';
import { parseMachine, readMachine } from '../../src/survey/read-machine.js';
import { readMeasurement } from '../../src/survey/read-measurement.js';
import { emptyFolder } from '../cli/run-gantrue.js';
import { makeMeasurement } from '../unit/report/make-measurement.js';

let folder: Awaited<ReturnType<typeof emptyFolder>>;
beforeAll(async () => {
  folder = await emptyFolder();
});
afterAll(() => folder.remove());

function failureOf(outcome: Outcome<unknown>): { code: string; message: string } {
  if (outcome.ok) throw new Error('was accepted');
  return outcome.failure;
}

async function measurementFailure(text: string) {
  const path = join(folder.path, 'measurement.json');
  await writeFile(path, text);
  return failureOf(await readMeasurement(path));
}

describe('a record', () => {
  it('whose schema is a deep list is refused and not written out', async () => {
    const deep = '['.repeat(200_000) + ']'.repeat(200_000);
    const { code, message } = await measurementFailure(`{"schema":${deep}}`);
    expect(code).toBe('MEASUREMENT_INVALID');
    expect(message).toContain('found a list');
  });

  it('with one line thirty times over, or beyond all numbers, has no shape along the travel', () => {
    const line = { placement: 0, axis: 'x', forward: 0.46, reverse: 0.48, u: 0.04 } as const;
    const first = { ...line, commanded: 0, forward: -0.01, reverse: 0.01 };
    const same = Array.from({ length: 30 }, () => ({ ...line, commanded: 360 }));
    expect(readShapes([first, ...same], 'x')).toEqual([]);
    expect(readShapes(same, 'x')).toEqual([]);
    const far = Array.from({ length: 9 }, (_, i) => ({ ...line, commanded: (i - 4) * 4e307 }));
    expect(readShapes(far, 'x')).toEqual([]);
  });

  it('that says measured at no time is refused before it comes into a history', async () => {
    const { code, message } = await measurementFailure(
      JSON.stringify({ ...makeMeasurement(), measuredAt: 'yesterday' }),
    );
    expect(code).toBe('MEASUREMENT_INVALID');
    expect(message).toContain('measuredAt');
  });
});

describe('a machine file', () => {
  it('with a value that contains itself is refused with its line', async () => {
    const { code, message } = failureOf(await parseMachine('name: x\naxes: &a [*a]\n'));
    expect(code).toBe('MACHINE_INVALID');
    expect(message).toContain('line 2: expected a value, found a reference');
  });

  it('with references that multiply is refused as such, not as empty', async () => {
    const rows = [
      'b: &b [x, x]',
      ...'cdefghij'.split('').map((c, i) => `${c}: &${c} [*${'bcdefghi'[i]}, *${'bcdefghi'[i]}]`),
    ];
    expect(failureOf(await parseMachine(rows.join('\n'))).message).toContain(
      'line 2: expected a value',
    );
  });

  it('of thousands of levels or thousands of slips is refused in a few lines', async () => {
    const deep = failureOf(await parseMachine(`name: ${'['.repeat(100_000)}`));
    expect(deep.message).toContain('nested too deeply');
    const slips = failureOf(await parseMachine('a: @\n'.repeat(50_000)));
    expect(slips.message.split('\n').length).toBeLessThan(30);
  });

  it('that never ends is given up', async () => {
    expect(failureOf(await readMachine('/dev/zero')).code).toMatch(/MACHINE_INVALID|FILE_MISSING/);
  });

  it.each(['toString', 'constructor', '__proto__'])(
    'with a placeholder {{%s}}, which every object has, is refused',
    async (name) => {
      const { code, message } = failureOf(await parseMachine(`settings: "a {{${name}}}"\n`));
      expect(code).toBe('MACHINE_INVALID');
      expect(message).toContain(`unknown {{${name}}}`);
    },
  );

  it('with a page of empty lines in its settings is read soon', async () => {
    const start = performance.now();
    await parseMachine(`settings: ${JSON.stringify(`a${'\n'.repeat(90_000)}b`)}\n`);
    expect(performance.now() - start).toBeLessThan(2000);
  });
});

it('a name of hundreds of thousands of blanks is shown soon', () => {
  const start = performance.now();
  expect(plainText(`a${' '.repeat(400_000)}b`)).toHaveLength(400_002);
  expect(performance.now() - start).toBeLessThan(500);
});

it('an uncertainty so small that its weight overflows is refused', () => {
  const rows = ['photo,x,y,u,v,sigma', 'a,0,0,10,20,2.1e-287'];
  const { code, message } = failureOf(parseImagePoints(rows.join('\n')));
  expect(code).toBe('IMAGE_POINTS_INVALID');
  expect(message).toContain('line 2, column sigma');
});

it('normal equations that overflowed have no solution', () => {
  const big = Number.POSITIVE_INFINITY;
  expect(solveNormal(Float64Array.of(big, big, big, big), Float64Array.of(1, 1))).toBeUndefined();
});

it('a BMP that promises more than its file holds is refused before it is decoded', async () => {
  const bytes = Buffer.alloc(1000);
  bytes.write('BM', 'latin1');
  bytes.writeUInt32LE(54, 10);
  bytes.writeUInt32LE(40, 14);
  bytes.writeInt32LE(11_000, 18);
  bytes.writeInt32LE(11_000, 22);
  bytes.writeUInt16LE(24, 28);
  const { code, message } = failureOf(await openPicture(bytes, 'x.bmp'));
  expect(code).toBe('PHOTO_TRUNCATED');
  expect(message).toContain('1000 bytes, expected 363000054');
});

it('a history whose head says that it is new is damaged, and left as it is', async () => {
  const [path, bad] = [join(folder.path, 'good.db'), join(folder.path, 'bad.db')];
  const made = await withHistory(path, 'create', () => success(undefined));
  expect(made.ok).toBe(true);
  await copyFile(path, bad);
  const connection = await connect(bad, 'rw');
  connection.exec('PRAGMA user_version = 0');
  connection.close();
  const opened = await withHistory(bad, 'write', () => failed('INTERNAL', 'was opened'));
  expect(failureOf(opened).code).toBe('HISTORY_DAMAGED');
});
