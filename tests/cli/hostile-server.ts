/** One process that runs command after command: thousands of hostile files need no thousand starts. */

import { type ChildProcessWithoutNullStreams, spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { createInterface, type Interface } from 'node:readline';
import { pathToFileURL } from 'node:url';
import { ROOT } from './run-gantrue.js';

const COMMAND = join(ROOT, 'dist/cli/run-cli.js');

/** The command as the program itself calls it; only its streams are collected. */
const SERVER = `
const { runCli } = await import(process.argv[1]);
const lines = (await import('node:readline')).createInterface({ input: process.stdin });
for await (const line of lines) {
  let stdout = '', stderr = '';
  const before = process.cpuUsage();
  const code = await runCli(JSON.parse(line), {
    streams: {
      stdout: { write: (text) => { stdout += text; } },
      stderr: { write: (text) => { stderr += text; } },
      env: {},
    },
    now: () => new Date('2026-11-20T12:00:00Z'),
    version: '0.0.0',
  });
  const { user, system } = process.cpuUsage(before);
  const ms = (user + system) / 1000;
  const rssMb = process.memoryUsage.rss() / 1e6;
  process.stdout.write(JSON.stringify({ code, stdout, stderr, ms, rssMb }) + '\\n');
}`;

export interface Answer {
  /** The exit code; what happened where there was none. */
  readonly code: number | 'hang' | 'crash';
  readonly stdout: string;
  readonly stderr: string;
  /** Time of the processor, which other work on the machine does not lengthen; of the clock where it was lost. */
  readonly ms: number;
  readonly rssMb: number;
}

/** By the clock, in units of what a command may take: a machine that others use is slower than its processor. */
const PATIENCE = 6;

export class HostileServer {
  private child: ChildProcessWithoutNullStreams | undefined;
  private lines: Interface | undefined;
  private trouble = '';

  constructor(
    private readonly cwd: string,
    private readonly mostMs: number,
  ) {
    if (!existsSync(COMMAND)) throw new Error('dist/ is not built: `npm run build` comes first');
  }

  /** After a hang or a crash the next command gets a new process. */
  run(args: readonly string[]): Promise<Answer> {
    this.start();
    const { child, lines } = this;
    return new Promise((resolve) => {
      const begun = performance.now();
      const end = (answer: Pick<Answer, 'code'> & Partial<Answer>) => {
        clearTimeout(timer);
        lines!.removeAllListeners('line');
        child!.removeAllListeners('close');
        const ms = performance.now() - begun;
        resolve({ stdout: '', stderr: this.trouble, rssMb: 0, ms, ...answer });
      };
      const lost = (code: 'hang' | 'crash') => {
        end({ code });
        this.stop();
      };
      const timer = setTimeout(() => lost('hang'), PATIENCE * this.mostMs);
      lines!.once('line', (line) => end(JSON.parse(line)));
      child!.once('close', () => lost('crash'));
      child!.stdin.write(`${JSON.stringify(args)}\n`);
    });
  }

  stop(): void {
    this.child?.kill('SIGKILL');
    this.child = undefined;
  }

  private start(): void {
    if (this.child !== undefined) return;
    this.trouble = '';
    this.child = spawn(
      process.execPath,
      ['--input-type=module', '-e', SERVER, '--', pathToFileURL(COMMAND).href],
      { cwd: this.cwd, stdio: 'pipe' },
    );
    this.child.stdin.on('error', () => {});
    this.child.stderr.setEncoding('utf8').on('data', (text: string) => {
      this.trouble = (this.trouble + text).slice(-4000);
    });
    this.lines = createInterface({ input: this.child.stdout });
  }
}
