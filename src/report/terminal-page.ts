/** What all texts for the terminal share: width and colours, sections, doubts. */

import picocolors from 'picocolors';
import type { Measurement } from '../../shared/schemas/measurement.js';
import type { Units } from './show-number.js';
import { wrapText } from './wrap-text.js';

export interface SummaryOptions {
  readonly units: Units;
  readonly colour: boolean;
  /** Columns; kept between 60 and 100. */
  readonly width: number;
}

const LEAST_WIDTH = 60;
/** Longer lines are hard to follow to the next. */
const MOST_WIDTH = 100;
export interface Page {
  readonly width: number;
  readonly paint: ReturnType<typeof picocolors.createColors>;
  readonly units: Units;
}

export function makePage({ width, colour, units }: SummaryOptions): Page {
  return {
    width: Math.min(MOST_WIDTH, Math.max(LEAST_WIDTH, width)),
    paint: picocolors.createColors(colour),
    units,
  };
}

export function joinSections(sections: readonly (readonly string[])[]): string {
  return `${sections
    .filter((lines) => lines.length > 0)
    .map((lines) => lines.join('\n'))
    .join('\n\n')}\n`;
}

export function findingText({ code, message, hint }: Measurement['findings'][number]): string {
  return `${message} [${code}]${hint === undefined ? '' : `; ${hint}`}`;
}

export function listDoubts(doubts: readonly string[], { width, paint }: Page): string[] {
  if (doubts.length === 0) return [];
  return [paint.bold('Doubts:'), ...doubts.flatMap((doubt) => wrapText(doubt, width, '  ? '))];
}
