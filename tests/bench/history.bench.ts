/** A history of 100,000 measurements (RECORDS=… for fewer) of ten machines, through the built command. */

import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { bench, describe } from 'vitest';
import { importEntries, withHistory } from '../../src/history/index.js';
import { success } from '../../src/quantity/index.js';
import { simulateYears } from '../simulation/years.js';
import { entryOfRow } from '../simulation/years-entries.js';

const RECORDS = Number(process.env.RECORDS ?? 100_000);
const MACHINES = 10;
const ROOT = new URL('../..', import.meta.url).pathname;

const folder = mkdtempSync(join(tmpdir(), 'gantrue-bench-'));
const path = join(folder, 'history.db');

const started = performance.now();
for (let machine = 0; machine < MACHINES; machine++) {
  const rows = simulateYears({ seed: machine + 1, weeks: RECORDS / MACHINES });
  const entries = rows.map((row) => entryOfRow({ ...row, machine: `Machine ${machine}` }));
  await withHistory(path, 'create', (history) => success(importEntries(history, entries)));
}
const one = entryOfRow(simulateYears({ seed: 77, weeks: 1 })[0]!);
await withHistory(path, 'create', (history) => success(importEntries(history, [one])));
console.log(
  `${RECORDS} measurements added in ${((performance.now() - started) / 1000).toFixed(1)} s, ${(statSync(path).size / 2 ** 20).toFixed(0)} MiB`,
);

function run(...args: string[]): void {
  const start = performance.now();
  const out = execFileSync(
    process.execPath,
    [join(ROOT, 'dist/bin/gantrue.js'), ...args, '--history', path],
    { maxBuffer: 2 ** 30, stdio: ['ignore', 'pipe', 'pipe'] },
  );
  console.log(
    `gantrue ${args.join(' ')}: ${((performance.now() - start) / 1000).toFixed(2)} s, ${out.length} characters`,
  );
}

run('--version');
run('log', 'list');
run('log', 'list', '--all');
run('log', 'list', '--machine-name', 'Machine 3');
run('log', 'show', '4711');
run('log', 'event', 'belt tightened', '--machine-name', 'Machine 3');
run('drift', '--machine-name', 'Machine 3');
run('drift', '--all');
run('log', 'export', '--format', 'csv');

describe('the history', () => {
  bench(
    'opened and looked through for damage',
    async () => {
      await withHistory(path, 'read', () => success(0));
    },
    { iterations: 3, time: 0, teardown: () => rmSync(folder, { recursive: true, force: true }) },
  );
});
