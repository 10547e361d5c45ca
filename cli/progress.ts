/** Progress on one line that is written over, for people at a terminal. */

import type { SurveyProgress } from '../src/index.js';
import { ERASE_LINE } from './guard-streams.js';
import { columnsOf, type Streams } from './streams.js';

export interface Progress {
  readonly show: (progress: SurveyProgress) => void;
  /** Clears the line. */
  readonly end: () => void;
}

const WORDS: Record<string, string> = {
  reading: 'reading',
  finding: 'finding the grid in',
  measuring: 'measuring the marks in',
  adjusting: 'adjusting',
  writing: 'drawing',
  rendering: 'rendering',
};

/** Silent unless standard error is a terminal and nobody asked for quiet. */
export function startProgress(quiet: boolean, { stderr }: Streams): Progress {
  if (quiet || stderr.isTTY !== true) return { show: () => {}, end: () => {} };
  return {
    show: ({ step, done, total, what }) => {
      const count = total === undefined ? '' : ` (${done} of ${total})`;
      const name = what === undefined ? '' : ` ${what.replace(/\s/g, ' ')}`;
      const text = `${WORDS[step] ?? step}${name}${count}`;
      stderr.write(ERASE_LINE + text.slice(0, columnsOf(stderr) - 1));
    },
    end: () => {
      stderr.write(ERASE_LINE);
    },
  };
}
