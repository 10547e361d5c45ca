/** Processes of their own that add to a history, one record after the other, and tell each that is on the disk. */

import { type ChildProcess, spawn } from 'node:child_process';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { ROOT } from './run-gantrue.js';

export interface Writer {
  readonly child: ChildProcess;
  /** Identities that were told to be on the disk. */
  readonly acknowledged: string[];
  /** Resolves when the process has ended, with what it said on standard error. */
  readonly ended: Promise<string>;
  /** Resolves when something was acknowledged, or at the end. */
  readonly begun: Promise<void>;
}

/** @param count records to add; then the process ends by itself. */
export function startWriter(
  path: string,
  count: number,
  { wrap = [], uid }: { wrap?: readonly string[]; uid?: number } = {},
): Writer {
  const [command, ...before] = [...wrap, process.execPath];
  const child = spawn(
    command!,
    [...before, '--input-type=module', '-e', SCRIPT, LIBRARY, path, String(count)],
    { stdio: ['ignore', 'pipe', 'pipe'], ...(uid === undefined ? {} : { uid, gid: uid }) },
  );
  const acknowledged: string[] = [];
  let [rest, errors] = ['', ''];
  child.stderr!.setEncoding('utf8').on('data', (text: string) => {
    errors += text;
  });
  const begun = new Promise<void>((resolve) => {
    child.stdout!.setEncoding('utf8').on('data', (text: string) => {
      const lines = (rest + text).split('\n');
      // A line that the kill cut short tells nothing.
      rest = lines.pop()!;
      acknowledged.push(...lines);
      resolve();
    });
    child.on('close', () => resolve());
  });
  const ended = new Promise<string>((resolve, reject) => {
    child.on('error', reject);
    child.on('close', () => resolve(errors));
  });
  return { child, acknowledged, ended, begun };
}

const LIBRARY = pathToFileURL(join(ROOT, 'dist/src/index.js')).href;

/** Opens, adds and closes for each record, as the command does, but without its start of half a second. */
const SCRIPT = `
import { writeSync } from 'node:fs';
const [library, path, count] = process.argv.slice(1);
const { addEntry, makeEventEntry, withHistory } = await import(library);
for (let i = 0; i < Number(count); i++) {
  const now = new Date(Date.UTC(2026, 0, 1) + i * 1000);
  const text = 'x'.repeat(1 + (i * 7919) % 9000);
  const entry = makeEventEntry({ machine: 'Test router', event: 'note', text, at: now, now }).value;
  const added = await withHistory(path, 'create', (history) => addEntry(history, entry));
  if (!added.ok) { console.error(added.failure.code + ' ' + added.failure.message); process.exit(3); }
  writeSync(1, entry.uid + '\\n');
}`;
