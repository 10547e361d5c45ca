#!/usr/bin/env node
/** The command: the process's own streams, clock and exit code around the tool. */

import { runCli } from './run-cli.js';
import { toolVersion } from './tool-version.js';

// A reader that has seen enough closes the pipe: no fault, and the files are still to be written.
for (const stream of [process.stdout, process.stderr]) {
  stream.on('error', (cause: NodeJS.ErrnoException) => {
    if (cause.code !== 'EPIPE' && cause.code !== 'ERR_STREAM_DESTROYED') throw cause;
  });
}

process.exitCode = await runCli(process.argv.slice(2), {
  streams: { stdout: process.stdout, stderr: process.stderr, env: process.env },
  now: () => new Date(),
  version: toolVersion(),
});
