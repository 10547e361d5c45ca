/** Trouble in words: what, where, then what to do about it. */

import type { Failure } from '../src/index.js';
import type { Streams } from './streams.js';

/** `gantrue: photo.jpg: the picture is too blurred [CODE]`, further problems, then the hint. */
export function printFailure(failure: Failure, { stderr }: Streams): void {
  const { code, where, hint } = failure;
  const [first, ...further] = failure.message.split('\n').map(shorten);
  const place = where === undefined ? '' : `${where.replace(/[\r\n\t]+/g, ' ')}: `;
  const lines = [`gantrue: ${place}${first} [${code}]`, ...further];
  if (hint !== undefined) lines.push(`  hint: ${hint}`);
  stderr.write(`${lines.join('\n')}\n`);
}

/** What was found instead of what was expected may be a whole file on one line. */
const LONGEST_LINE = 600;

function shorten(line: string): string {
  return line.length > LONGEST_LINE ? `${line.slice(0, LONGEST_LINE)}…` : line;
}

/** A fault of the tool itself; the trace helps whoever mends it. */
export function printFault(fault: unknown, version: string, { stderr }: Streams): void {
  const trace = fault instanceof Error ? (fault.stack ?? fault.message) : String(fault);
  stderr.write(
    [
      'gantrue: a fault of the tool itself, not of your photos or files [INTERNAL]',
      `  version ${version}, node ${process.version}, ${process.platform}`,
      ...trace.split('\n').map((line) => `  ${line}`),
      '  hint: please report it with the command as you typed it and these lines',
      '',
    ].join('\n'),
  );
}
