/** The verdict on photos in the terminal: a line for each, what would make it better, then the set. */

import type { PhotoRecord } from '../../shared/schemas/measurement.js';
import type { PhotoCheck } from '../../shared/schemas/photo-check.js';
import type { PhotoVerdict } from '../../shared/schemas/photo-verdict.js';
import { fixed } from './show-number.js';
import {
  findingText,
  joinSections,
  listDoubts,
  makePage,
  type Page,
  type SummaryOptions,
} from './terminal-page.js';
import { wrapText } from './wrap-text.js';

/** Longer names push their own line, not all others. */
const MOST_NAME = 24;
const STATE_COLUMNS = 10;

export function photoCheckText(check: PhotoCheck, options: SummaryOptions): string {
  const page = makePage(options);
  const { paint, width } = page;
  const { photos, set, findings } = check;
  const usable = `${set.usable} of ${photos.length} ${photos.length === 1 ? 'photo' : 'photos'} can be used`;
  const name = Math.min(MOST_NAME, Math.max(...photos.map(({ file }) => file.length))) + 2;
  const sections = [
    wrapText(`${check.program}: ${usable}; the set is ${wordOfSet(set.state)}`, width).map((line) =>
      paint.bold(line),
    ),
    photos.flatMap((photo) => photoLines(photo, name, page)),
    set.advice.length === 0
      ? []
      : [
          paint.bold('The set:'),
          ...set.advice.flatMap(({ text, needed }) =>
            wrapText(text, width, needed ? '  ! ' : '  - '),
          ),
        ],
    listDoubts(findings.map(findingText), page),
  ];
  return joinSections(sections);
}

function wordOfSet(state: PhotoCheck['set']['state']): string {
  return { good: 'good', usable: 'usable', 'not enough': 'NOT ENOUGH' }[state];
}

function photoLines(
  { file, verdict, code }: PhotoRecord,
  nameColumns: number,
  { width, paint }: Page,
): string[] {
  if (verdict === undefined) return [];
  const colour = {
    good: paint.green,
    usable: paint.yellow,
    poor: paint.red,
    unusable: paint.red,
  }[verdict.state];
  // Not by colour alone: capitals for what needs doing.
  const isBad = verdict.state === 'poor' || verdict.state === 'unusable';
  const word = isBad ? verdict.state.toUpperCase() : verdict.state;
  const indent = ' '.repeat(4);
  const figures = code === undefined ? photoFigures(verdict) : `[${code}]`;
  const head = `${file.padEnd(nameColumns - 2)}  ${word.padEnd(STATE_COLUMNS)}`;
  const lines = wrapText(figures, width, head);
  return [
    lines[0].replace(word, colour(word)).trimEnd(),
    ...lines.slice(1),
    ...verdict.advice.flatMap(({ text }) => wrapText(text, width, indent)),
  ];
}

/** `edges 3.3 px, contrast 42 %, marks 100 %, grid 94 %, tilt 1.0°`. */
function photoFigures({ marks, missing, view, coverage }: PhotoVerdict): string {
  const percent = (share: number) => `${Math.round(100 * share)} %`;
  const parts: string[] = [];
  if (marks !== undefined && marks.length > 0) {
    parts.push(`edges ${fixed(Math.max(...marks.map(({ edgePx }) => edgePx)), 1)} px`);
    parts.push(`contrast ${percent(Math.min(...marks.map(({ contrast }) => contrast)))}`);
  }
  if (missing !== undefined) {
    parts.push(`marks ${percent(1 - missing.reduce((sum, { share }) => sum + share, 0))}`);
  }
  // Of a whole grid nothing needs to be said.
  if (coverage !== undefined && coverage.inPicture < 1) {
    parts.push(`grid ${percent(coverage.inPicture)}`);
  }
  if (view !== undefined) parts.push(`tilt ${fixed((view.tiltRad * 180) / Math.PI, 1)}°`);
  return parts.join(', ');
}
