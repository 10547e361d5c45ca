/** The comparison in the terminal: what moved, which way, and whether that is what was proposed. */

import type {
  ChangeVerdict,
  Compared,
  ComparedName,
  Comparison,
} from '../../shared/schemas/comparison.js';
import type { Quantity } from '../../shared/schemas/measurement.js';
import { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
import { showDifference, showLimit, showValue, type Units } from './show-number.js';
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
const INDENT = ' '.repeat(NAME_COLUMNS);

export function comparisonText(comparison: Comparison, options: SummaryOptions): string {
  const page = makePage(options);
  const { quantities, findings } = comparison;
  return joinSections([
    headline(comparison, page),
    ...sectionsOf(quantities, page),
    commonLines(quantities, page),
    listDoubts(findings.map(findingText), page),
  ]);
}

function headline({ before, after, quantities }: Comparison, { paint, width }: Page): string[] {
  const parts = HEADLINE.flatMap(([verdict, words]) => {
    const count = quantities.filter((one) => one.verdict === verdict).length;
    return count === 0 ? [] : [`${count} ${words}`];
  });
  const machine = after.machine ?? before.machine ?? 'machine';
  const told = parts.length === 0 ? 'nothing compared' : parts.join(', ');
  return [
    ...wrapText(`${machine}: ${told}`, width).map(paint.bold),
    ...wrapText(
      `before: ${before.file} (${dayOf(before.measuredAt)}); after: ${after.file} (${dayOf(after.measuredAt)}); values ± expanded uncertainty (k = 2, about 95 %); En: a difference over its own uncertainty, significant above 1`,
      width,
    ).map(paint.dim),
  ];
}

/** What needs doing first. */
const HEADLINE: readonly (readonly [ChangeVerdict, string])[] = [
  ['moved the wrong way', 'moved the wrong way'],
  ['moved too far', 'moved too far'],
  ['moved too little', 'moved too little'],
  ['did what was proposed', 'did what was proposed'],
  ['changed though nothing was proposed', 'changed unasked'],
  ['no change beyond U', 'unchanged'],
  ['cannot tell', 'cannot be told'],
];

function dayOf(time: string): string {
  return time.slice(0, 10);
}

/** A reason that several quantities share is told once, with the first of them. */
function sectionsOf(quantities: readonly Compared[], page: Page): string[][] {
  const told = new Map<string, string>();
  return quantities.map((compared) => {
    const { what, verdict, why, hint, proposed } = compared;
    if (verdict === 'no change beyond U' && proposed === undefined) {
      return quantityLines(compared, [], page);
    }
    const key = JSON.stringify([why, hint]);
    const first = told.get(key);
    if (first === undefined) told.set(key, QUANTITY_NAME[what]);
    const isOpen = verdict === 'cannot tell' && first !== undefined;
    const reasons = isOpen
      ? [`for the same reason as ${first}`]
      : [why, ...(hint === undefined ? [] : [hint])];
    return quantityLines(compared, reasons, page);
  });
}

function quantityLines(compared: Compared, reasons: readonly string[], page: Page): string[] {
  const { paint, width, units } = page;
  const { what, after, verdict, limit } = compared;
  const standing =
    limit === undefined || after.state !== 'measured'
      ? ''
      : `; now ${LIMIT_WORD[limit.verdict]}, limit ${showLimit(limit.limit, limit.unit, units)}`;
  const [first, ...rest] = wrapText(`${showBoth(compared, units)}${standing}`, width, INDENT);
  const name = paint.bold(QUANTITY_NAME[what].padEnd(NAME_COLUMNS));
  const below = [...changeTexts(compared, units), ...reasons];
  return [
    `${name}${first!.slice(NAME_COLUMNS)}`,
    ...rest,
    `${INDENT}${paintVerdict(verdict, page)}`,
    ...below.flatMap((text) => wrapText(text, width, INDENT)),
  ];
}

/** Not by colour alone: capitals for what needs doing. */
const LIMIT_WORD = {
  inside: 'inside',
  outside: 'OUTSIDE',
  'cannot tell': 'inside or outside, cannot tell',
} as const;

/** The unit once, where both have it. */
function showBoth({ what, before, after }: Compared, units: Units): string {
  const isUnitTold = before.state === 'undetermined' || after.state === 'undetermined';
  return `${show(what, before, units, isUnitTold)} → ${show(what, after, units, true)}`;
}

function show(what: ComparedName, quantity: Quantity, units: Units, isUnitTold: boolean): string {
  if (quantity.state === 'undetermined') return 'undetermined';
  const weak = quantity.state === 'weak' ? 'weak: ' : '';
  const { withU, unit } = showValue(MEASURE_OF[what], quantity.value, quantity.U, units);
  return weak + (isUnitTold ? withU : withU.slice(0, -unit.length - 1));
}

function paintVerdict(verdict: ChangeVerdict, { paint }: Page): string {
  switch (verdict) {
    case 'moved the wrong way':
      return paint.red(verdict.toUpperCase());
    case 'moved too far':
    case 'moved too little':
    case 'changed though nothing was proposed':
      return paint.yellow(verdict.toUpperCase());
    case 'did what was proposed':
      return paint.green(verdict);
    case 'no change beyond U':
      return verdict;
    case 'cannot tell':
      return paint.yellow(verdict);
  }
}

function changeTexts({ what, change, proposed }: Compared, units: Units): string[] {
  if (change === undefined) return [];
  const measure = MEASURE_OF[what];
  const changed = `change ${showDifference(measure, change.value, change.U, units).withU} (En ${showEn(change.En)})`;
  if (proposed === undefined) return [changed];
  const asked = showDifference(measure, proposed.change, change.U, units).value;
  const against = proposed.En === undefined ? '' : ` (En against it ${showEn(proposed.En)})`;
  return [`${changed}; proposed ${asked}${against}`];
}

/** Beyond a hundred the figure says no more. */
function showEn(En: number): string {
  return En > 100 ? 'above 100' : En.toFixed(En < 10 ? 1 : 0);
}

/** What several quantities have in common is said once. */
function commonLines(quantities: readonly Compared[], { width, paint }: Page): string[] {
  const byReason = new Map<string, string[]>();
  for (const { what, common = [] } of quantities) {
    for (const { why } of common) {
      byReason.set(why, [...(byReason.get(why) ?? []), QUANTITY_NAME[what]]);
    }
  }
  return [...byReason].flatMap(([why, names]) =>
    wrapText(`${names.join(', ')}: ${why}`, width).map(paint.dim),
  );
}
