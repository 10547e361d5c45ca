import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { comparisonSchema } from '../../shared/schemas/comparison.js';
import type { Measurement } from '../../shared/schemas/measurement.js';
import { judge, propose } from '../../src/index.js';
import { estimate, makeMeasurement } from '../unit/report/make-measurement.js';
import { emptyFolder, runGantrue } from './run-gantrue.js';

let folder: Awaited<ReturnType<typeof emptyFolder>>;
const path = (name: string) => join(folder.path, name);

async function save(name: string, changes: Partial<Measurement>): Promise<void> {
  const measurement = makeMeasurement({ photos: [], findings: [], ...changes });
  const judged = { ...measurement, verdicts: judge(measurement, undefined) };
  const proposals = propose(judged, undefined, undefined);
  await mkdir(path(name));
  await writeFile(path(`${name}/measurement.json`), JSON.stringify({ ...judged, proposals }));
}

const LATER = { measuredAt: '2026-11-24T10:30:00.000Z' };
const SET_RIGHT = {
  ...LATER,
  lostMotion: { x: estimate(0.02, 0.004, 'mm'), y: estimate(0.004, 0.006, 'mm') },
  scale: {
    x: estimate(0.02e-3, 0.1e-3, '1'),
    y: estimate(-0.1e-3, 0.06e-3, '1'),
    ratio: estimate(0.1e-3, 0.02e-3, '1'),
  },
};

beforeAll(async () => {
  folder = await emptyFolder();
  await save('before', {});
  await save('right', { ...SET_RIGHT, squareness: estimate(0.02e-3, 0.06e-3, 'rad') });
  await save('swapped', { ...SET_RIGHT, squareness: estimate(1.71e-3, 0.06e-3, 'rad') });
  await save('vague', { ...SET_RIGHT, squareness: estimate(0.1e-3, 1e-3, 'rad') });
  await save('other', { ...LATER, machine: 'Other router' });
});
afterAll(() => folder.remove());

const compare = (...args: string[]) => runGantrue(['compare', ...args], folder.path);

describe('gantrue compare', () => {
  it('takes folders or files, writes to standard output alone, and exits with 0', async () => {
    const ran = await compare('before', 'swapped/measurement.json');
    expect(ran.code).toBe(0);
    expect(ran.stderr).toBe('');
    expect(ran.stdout).toContain('1 moved the wrong way');
    expect(ran.stdout.replace(/\s+/g, ' ')).toContain('sign or side swapped');
  });

  it('exits under --check with 0 where all was set right, 1 the wrong way, 4 where it is open', async () => {
    expect((await compare('before', 'right', '--check')).code).toBe(0);
    expect((await compare('before', 'swapped', '--check')).code).toBe(1);
    expect((await compare('before', 'vague', '--check')).code).toBe(4);
  });

  it('prints JSON by its schema and nothing else', async () => {
    const ran = await compare('before', 'right', '--json');
    const { quantities, before } = comparisonSchema.parse(JSON.parse(ran.stdout));
    expect(before.file).toBe(join('before', 'measurement.json'));
    const verdicts = Object.fromEntries(quantities.map(({ what, verdict }) => [what, verdict]));
    expect(verdicts).toMatchObject({
      squareness: 'did what was proposed',
      'scale.x': 'did what was proposed',
      'scale.ratio': 'did what was proposed',
      'lostMotion.y': 'did what was proposed',
      'straightness.x': 'no change beyond U',
    });
  });

  it('refuses another machine, unless forced', async () => {
    const refused = await compare('before', 'other');
    expect(refused.code).toBe(3);
    expect(refused.stdout).toBe('');
    expect(refused.stderr).toMatch(
      /“Test router” and “Other router”.* \[NOT_COMPARABLE\]\n {2}hint: /,
    );
    const forced = await compare('before', 'other', '--force');
    expect(forced.code).toBe(0);
    expect(forced.stdout.replace(/\s+/g, ' ')).toContain('[MACHINES_DIFFER]');
  });

  it('names a file that is missing or no measurement', async () => {
    expect((await compare('before', 'nowhere')).stderr).toContain('[FILE_MISSING]');
    await writeFile(path('list.json'), '[]');
    expect((await compare('list.json', 'before')).stderr).toContain('[MEASUREMENT_INVALID]');
  });
});
