/** What was done to a compensated program, for the terminal. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import type { CompensationRecord, UsedTerm } from '../compensation/index.js';
import { type Measure, showValue } from './show-number.js';
import {
  findingText,
  joinSections,
  listDoubts,
  makePage,
  type Page,
  type SummaryOptions,
} from './terminal-page.js';
import { wrapText } from './wrap-text.js';

const NAME_COLUMNS = 16;

const MEASURE_OF_UNIT: Record<UsedTerm['unit'], Measure> = {
  rad: 'slope',
  '1': 'slope',
  mm: 'length',
};

export function compensationText(record: CompensationRecord, options: SummaryOptions): string {
  const page = makePage(options);
  return joinSections([
    headline(record, page),
    usedLines(record, page),
    leftOutLines(record, page),
    changeLines(record, page),
    listDoubts(record.findings.map(findingText), page),
    [page.paint.bold('Before you run it:'), ...listCautions(record, page)],
  ]);
}

function headline({ program, measurement }: CompensationRecord, { paint, width }: Page): string[] {
  const machine = measurement.machine === undefined ? '' : ` for ${measurement.machine}`;
  const by = `measurement of ${measurement.measuredAt.slice(0, 10)}, SHA-256 ${measurement.sha256.slice(0, 16)}`;
  return [paint.bold(`${program} compensated${machine}`), ...wrapText(by, width)];
}

function usedLines({ used }: CompensationRecord, { paint, units }: Page): string[] {
  return [
    paint.bold('Taken out:'),
    ...used.map(({ what, value, U, unit }) => {
      const shown = showValue(MEASURE_OF_UNIT[unit], value, U, units).withU;
      const isLargest = what.startsWith('table') || what === 'racking';
      return `  ${what.padEnd(NAME_COLUMNS)}${isLargest ? 'up to ' : ''}${shown}`;
    }),
  ];
}

function leftOutLines({ leftOut }: CompensationRecord, { paint, width }: Page): string[] {
  if (leftOut.length === 0) return [];
  return [
    paint.bold('Left as it is:'),
    ...leftOut.flatMap(({ what, why, add }) => {
      const help = add.length === 0 ? '' : `; add ${add.join(', or ')}`;
      return wrapText(`${why}${help}`, width, `  ${what.padEnd(NAME_COLUMNS)}`);
    }),
  ];
}

function changeLines(
  { lines, envelope, toleranceMm, largestChangeMm, largestMissMm }: CompensationRecord,
  { width, units }: Page,
): string[] {
  const digits = units === 'mm' ? 3 : 5;
  const factor = units === 'mm' ? 1 : 1 / MM_PER_INCH;
  const length = (mm: number) => `${(mm * factor).toFixed(digits)} ${units}`;
  const reach = (axis: 'x' | 'y') => {
    const [before, after] = [envelope.before[axis], envelope.after[axis]];
    if (before === undefined || after === undefined) return [];
    const range = (one: readonly [number, number]) =>
      one.map((mm) => (mm * factor).toFixed(digits)).join(' to ');
    const name = `reach ${axis.toUpperCase()}`.padEnd(NAME_COLUMNS);
    return [`${name}${range(after)} ${units} (was ${range(before)})`];
  };
  const arcs =
    lines.arcsKept + lines.arcsToChords === 0
      ? ''
      : `; arcs: ${lines.arcsToChords} as chords, ${lines.arcsKept} still as arcs`;
  const counts = `${lines.read} became ${lines.written}; moves changed: ${lines.changed}, split: ${lines.split}${arcs}`;
  return [
    ...wrapText(counts, width, 'lines'.padEnd(NAME_COLUMNS)),
    `${'change'.padEnd(NAME_COLUMNS)}up to ${length(largestChangeMm)}`,
    ...wrapText(
      `paths within ${length(toleranceMm)} of the measured map; numbers rounded to 0.001 mm or 0.0001 in (ends within ${length(largestMissMm)})`,
      width,
      'tolerance'.padEnd(NAME_COLUMNS),
    ),
    ...reach('x'),
    ...reach('y'),
  ];
}

function listCautions({ cautions }: CompensationRecord, { width }: Page): string[] {
  return cautions.flatMap((caution) => wrapText(caution, width, '  ! '));
}
