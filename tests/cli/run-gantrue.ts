/** The built command as users start it: a process of its own. */

import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

export const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const BUILT = join(ROOT, 'dist/bin/gantrue.js');

export interface Ran {
  readonly code: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

/** Runs a program to its end; output as text. */
export function run(command: string, args: readonly string[], cwd: string): Promise<Ran> {
  return new Promise((resolve, reject) => {
    const child = spawn(command, [...args], { cwd, stdio: ['ignore', 'pipe', 'pipe'] });
    let stdout = '';
    let stderr = '';
    child.stdout.setEncoding('utf8').on('data', (text: string) => {
      stdout += text;
    });
    child.stderr.setEncoding('utf8').on('data', (text: string) => {
      stderr += text;
    });
    child.on('error', reject);
    child.on('close', (code) => resolve({ code, stdout, stderr }));
  });
}

/** Runs the built `gantrue`. */
export function runGantrue(args: readonly string[], cwd: string = ROOT): Promise<Ran> {
  if (!existsSync(BUILT)) throw new Error('dist/ is not built: `npm run build` comes first');
  return run(process.execPath, [BUILT, ...args], cwd);
}

/** A new empty folder outside the project, and how to remove it. */
export async function emptyFolder(): Promise<{ path: string; remove: () => Promise<void> }> {
  const path = await mkdtemp(join(tmpdir(), 'gantrue-test-'));
  return { path, remove: () => rm(path, { recursive: true, force: true }) };
}
