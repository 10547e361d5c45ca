/** Streams that pass no character by which a name in a file could act on the terminal. */

import type { Streams, TextStream } from './streams.js';

/** What the progress line begins with: back to the first column, erase the line. */
export const ERASE_LINE = '\r\u001b[K';
/** Colours and weights of our own; with it a name could at most be coloured. */
const STYLE = /(\u001b\[\d{1,2}m)/;
/** What moves the cursor or changes the order of letters, but for tabs and ends of lines: C0, C1, bidirectional marks. */
const ACTS =
  /\r(?!\n)|[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u2028-\u202e\u2066-\u2069]/g;

/**
 * Names of machines and photos, notes, comments of programs and what a camera wrote into its files may hold
 * anything. Where they are printed is many places; where printing leaves the tool is one.
 */
export function guardStreams({ stdout, stderr, env }: Streams): Streams {
  return { stdout: guard(stdout), stderr: guard(stderr), env };
}

function guard(stream: TextStream): TextStream {
  return {
    write: (text) => stream.write(passSafe(text, stream.isTTY === true)),
    ...(stream.isTTY === undefined ? {} : { isTTY: stream.isTTY }),
    get columns() {
      return stream.columns!;
    },
  };
}

/** Escape sequences are ours only where a terminal shows them. */
function passSafe(text: string, isTerminal: boolean): string {
  if (!isTerminal) return tameText(text);
  if (text.startsWith(ERASE_LINE))
    return ERASE_LINE + passSafe(text.slice(ERASE_LINE.length), true);
  return text
    .split(STYLE)
    .map((part, i) => (i % 2 === 1 ? part : tameText(part)))
    .join('');
}

function tameText(text: string): string {
  return text.replace(ACTS, '\ufffd');
}
