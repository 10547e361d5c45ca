/** Entries of the history for the terminal. */

import type { HistoryEntry, MeasurementEntry } from '../../shared/schemas/history.js';
import { COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';
import {
  type HistoryRow,
  listQuantities,
  type MeasurementRow,
  type QuantityName,
  type StoredQuantities,
} from '../history/index.js';
import { plainText } from './plain-text.js';
import { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
import { showValue, type Units } from './show-number.js';
import { makePage, type Page, type SummaryOptions } from './terminal-page.js';
import { wrapText } from './wrap-text.js';

/** Told in a list of one or two lines per measurement. */
const IN_LIST: readonly QuantityName[] = [
  'squareness',
  'scale.x',
  'scale.y',
  'lostMotion.x',
  'lostMotion.y',
];

/**
 * One entry per line or two, oldest first.
 *
 * @param inAll how many there are, where only the newest are shown.
 */
export function historyListText(
  rows: readonly HistoryRow[],
  inAll: number,
  options: SummaryOptions,
): string {
  const page = makePage(options);
  const isOne = new Set(rows.map(({ machine }) => machine)).size <= 1;
  const idColumns = String(rows.at(-1)?.id ?? 0).length + 1;
  const lines = rows.flatMap((row) => {
    const lead = `${String(row.id).padStart(idColumns)}  ${localTime(row.at)}  `;
    const machine = isOne ? '' : `${plainText(row.machine)}: `;
    const removed = row.removedAt === undefined ? '' : ' (removed)';
    const lines = wrapText(`${machine}${summary(row, page.units)}${removed}`, page.width, lead);
    return row.removedAt === undefined ? lines : lines.map(page.paint.dim);
  });
  const left = inAll - rows.length;
  const more = left > 0 ? [`${left} older entries: gantrue log list --all`] : [];
  return [...more.map(page.paint.dim), ...lines, ''].join('\n');
}

/** Everything about one entry but the body of its measurement. */
export function historyEntryText(id: number, entry: HistoryEntry, options: SummaryOptions): string {
  const page = makePage(options);
  const rows: [string, string | undefined][] = [
    ['machine', entry.machine],
    [entry.kind === 'event' ? 'when' : 'photographed', localTime(entry.at)],
    ...(entry.kind === 'event'
      ? ([[entry.event, entry.text]] as [string, string][])
      : measurementRows(entry, page.units)),
    ['notes', entry.notes],
    ['added', localTime(entry.addedAt)],
    ['removed', entry.removedAt === undefined ? undefined : localTime(entry.removedAt)],
  ];
  const head = `${entry.kind === 'event' ? 'Event' : 'Measurement'} ${id}`;
  return [page.paint.bold(head), ...rows.flatMap((row) => rowLines(row, page)), ''].join('\n');
}

const NAME_COLUMNS = 16;

function rowLines([name, value]: [string, string | undefined], { width }: Page): string[] {
  return value === undefined
    ? []
    : wrapText(plainText(value), width, `  ${name.padEnd(NAME_COLUMNS)}`);
}

function measurementRows(entry: MeasurementEntry, units: Units): [string, string | undefined][] {
  const { board, measurement, markedAt, temperature, humidity, hours, settings } = entry;
  const stored = listQuantities(measurement);
  const { make, model } = measurement.camera[0] ?? {};
  return [
    ['marked', markedAt === undefined ? undefined : localTime(markedAt)],
    ['board', [board.id, board.material, MARKS_WORDS[board.marks]].filter(isText).join(', ')],
    ['temperature', temperature === undefined ? undefined : `${temperature} °C`],
    ['humidity', humidity === undefined ? undefined : `${humidity} % relative humidity`],
    ['running hours', hours === undefined ? undefined : String(hours)],
    [
      'settings',
      settings === undefined
        ? undefined
        : Object.entries(settings)
            .map(([name, value]) => `${name} ${value}`)
            .join(', '),
    ],
    ['program', measurement.placements.map(({ program }) => program).join(', ')],
    ['camera', [make, model].filter(isText).join(' ') || undefined],
    ['photos', String(measurement.photos.filter(({ used }) => used).length)],
    ['evidence', measurement.evidence.map(({ what }) => what).join(', ') || undefined],
    ...Object.keys(stored).map((name): [string, string] => [
      QUANTITY_NAME[name as QuantityName],
      tellQuantity(name as QuantityName, stored, units) ?? 'undetermined',
    ]),
    ['deviations', `${measurement.deviations.length} lines and rungs (--json shows them)`],
  ];
}

const MARKS_WORDS = {
  fresh: 'freshly marked',
  old: 'old marks',
  unknown: 'age of the marks unknown',
} as const;

function summary(row: HistoryRow, units: Units): string {
  if (row.kind === 'event') return `${row.event}: ${plainText(row.text)}`;
  const told = IN_LIST.flatMap((name) => {
    const value = tellQuantity(name, row.quantities, units);
    return value === undefined ? [] : [`${QUANTITY_NAME[name]} ${value}`];
  });
  return `${boardWords(row)}: ${told.length === 0 ? 'nothing was measured' : told.join('; ')}`;
}

function boardWords({ board }: MeasurementRow): string {
  const words = board.id === undefined ? '' : `board ${plainText(board.id)}, `;
  return `${words}${MARKS_WORDS[board.marks]}`;
}

function tellQuantity(
  name: QuantityName,
  quantities: StoredQuantities,
  units: Units,
): string | undefined {
  const quantity = quantities[name];
  if (quantity === undefined || quantity.state === 'undetermined') return undefined;
  const { withU } = showValue(
    MEASURE_OF[name],
    quantity.value,
    COVERAGE_FACTOR * quantity.u,
    units,
  );
  return quantity.state === 'weak' ? `weak: ${withU}` : withU;
}

/** `2026-11-20 10:02` by the computer's clock. */
export function localTime(instant: string): string {
  const date = new Date(instant);
  const two = (value: number) => String(value).padStart(2, '0');
  return `${localDay(date)} ${two(date.getHours())}:${two(date.getMinutes())}`;
}

export function localDay(date: Date): string {
  const two = (value: number) => String(value).padStart(2, '0');
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}

function isText(text: string | undefined): text is string {
  return text !== undefined;
}
