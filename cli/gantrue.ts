#!/usr/bin/env node
/** The command: the process's own streams, clock and exit code around the tool. */

import { EXIT, FAILURE_CODES } from '../shared/failure-codes.js';
import { guardStreams } from './guard-streams.js';
import { printFault } from './print-failure.js';
import { runCli } from './run-cli.js';
import { toolVersion } from './tool-version.js';

const version = toolVersion();
const streams = { stdout: process.stdout, stderr: process.stderr, env: process.env };
let lostOutput: number | undefined;

// A reader that has seen enough closes the pipe: no fault, and the files are still to be written.
const isClosed = ({ code }: NodeJS.ErrnoException) =>
  code === 'EPIPE' || code === 'ERR_STREAM_DESTROYED';
process.stdout.on('error', (cause: NodeJS.ErrnoException) => {
  if (isClosed(cause) || lostOutput !== undefined) return;
  lostOutput = FAILURE_CODES.OUTPUT_UNWRITABLE.exit;
  process.exitCode = lostOutput;
  const what =
    cause.code === 'ENOSPC' ? 'the disk is full' : `it cannot be written (${cause.code})`;
  process.stderr.write(
    `gantrue: standard output: ${what} [OUTPUT_UNWRITABLE]\n  hint: send it elsewhere, or make room\n`,
  );
});
// There is nowhere left to tell it.
process.stderr.on('error', () => {});

// Node would exit with 1, which means something here.
process.on('uncaughtException', (thrown) => {
  printFault(thrown, version, guardStreams(streams));
  process.exit(EXIT.fault);
});

const exitCode = await runCli(process.argv.slice(2), { streams, now: () => new Date(), version });
process.exitCode = lostOutput ?? exitCode;
