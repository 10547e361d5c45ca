/** The history as text: JSON with everything, CSV for a spreadsheet; and back. */

import { QUANTITY_KEYS } from '../../shared/quantity-keys.js';
import {
  HISTORY_SCHEMA_ID,
  type HistoryEntry,
  type HistoryExport,
  historySchema,
} from '../../shared/schemas/history.js';
import { readLimited } from '../imaging/index.js';
import { failed, failedRead, type Outcome, success } from '../quantity/index.js';
import type { HistoryRow } from './entries.js';
import type { QuantityName } from './list-quantities.js';

export function exportJson(
  entries: readonly HistoryEntry[],
  exportedAt: Date,
  toolVersion: string,
): string {
  const whole: HistoryExport = {
    schema: HISTORY_SCHEMA_ID,
    tool: { name: 'gantrue', version: toolVersion },
    exportedAt: exportedAt.toISOString(),
    entries: [...entries],
  };
  return `${JSON.stringify(whole, undefined, 2)}\n`;
}

const MOST_PROBLEMS = 5;
/** Some hundred thousand records; the longest text that the engine can hold is not far above. */
const MOST_BYTES = 400_000_000;

/** Fails: FILE_MISSING; FILE_UNREADABLE; HISTORY_EXPORT_INVALID. */
export async function readExport(path: string): Promise<Outcome<HistoryEntry[]>> {
  let text: string | undefined;
  try {
    text = (await readLimited(path, MOST_BYTES))?.toString('utf8');
  } catch (cause) {
    return failedRead(cause, path, { what: 'export' });
  }
  const refuse = (problems: readonly string[]) =>
    failed(
      'HISTORY_EXPORT_INVALID',
      ['this is no export of a history; nothing was imported', ...problems].join('\n  '),
      { where: path, hint: 'give what gantrue log export wrote as JSON' },
    );
  if (text === undefined) return refuse([`it is larger than ${MOST_BYTES / 1e6} MB`]);
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch {
    return refuse(['it is no JSON']);
  }
  const checked = historySchema.safeParse(data);
  if (checked.success) return success(checked.data.entries.map(withPlainInstants));
  const { issues } = checked.error;
  return refuse([
    ...issues.slice(0, MOST_PROBLEMS).map(({ path: at, message }) => `${at.join('.')}: ${message}`),
    ...(issues.length > MOST_PROBLEMS ? [`and ${issues.length - MOST_PROBLEMS} more`] : []),
  ]);
}

/** Instants are compared as texts: one form for all. */
function withPlainInstants(entry: HistoryEntry): HistoryEntry {
  const plain = (instant: string) => new Date(instant).toISOString();
  const { at, addedAt, removedAt } = entry;
  const common = {
    at: plain(at),
    addedAt: plain(addedAt),
    ...(removedAt === undefined ? {} : { removedAt: plain(removedAt) }),
  };
  if (entry.kind === 'event') return { ...entry, ...common };
  const { markedAt } = entry;
  return { ...entry, ...common, ...(markedAt === undefined ? {} : { markedAt: plain(markedAt) }) };
}

/** Quantities, after what the entry itself says. */
const COLUMNS = QUANTITY_KEYS;

const SLOPES = new Set<QuantityName>([
  'squareness',
  'scale.x',
  'scale.y',
  'scale.ratio',
  'racking',
]);
/** From rad, ratio and rad/m to mm/m and mm/m per m. */
const PER_METRE = 1000;

/**
 * RFC 4180 text, one row per entry: values and standard uncertainties (u) of what was measured, slopes in mm/m,
 * lengths in mm; empty where weak or undetermined. Numbers stay numbers; a text that a spreadsheet would run as a
 * formula gets an apostrophe before it.
 *
 * @returns also how many cells got one.
 */
export function exportCsv(rows: readonly HistoryRow[]): { text: string; tamed: number } {
  const header = [
    ...['id', 'machine', 'at', 'kind', 'event', 'text', 'board', 'material', 'marks', 'marked_at'],
    ...['temperature_c', 'humidity_percent', 'hours', 'camera', 'notes'],
    ...COLUMNS.flatMap((name) => {
      const unit = name === 'racking' ? 'mm_per_m2' : SLOPES.has(name) ? 'mm_per_m' : 'mm';
      return [`${name}_${unit}`, `${name}_u`];
    }),
  ];
  const text = `${[header, ...rows.map(cellsOf)].map((cells) => cells.join(',')).join('\r\n')}\r\n`;
  return { text, tamed: rows.flatMap(textsOf).filter((one) => RUNS.test(one)).length };
}

function textsOf(row: HistoryRow): string[] {
  const own = row.kind === 'event' ? [row.text] : [row.board.id, row.board.material, row.camera];
  return [row.machine, row.notes, ...own].filter((text) => text !== undefined);
}

function cellsOf(row: HistoryRow): string[] {
  const core = [String(row.id), textCell(row.machine), row.at, row.kind];
  if (row.kind === 'event') {
    const gap = Array<string>(8).fill('');
    const none = Array<string>(2 * COLUMNS.length).fill('');
    return [...core, row.event, textCell(row.text), ...gap, textCell(row.notes), ...none];
  }
  const { board, markedAt, temperature, humidity, hours, camera, notes, quantities } = row;
  return [
    ...core,
    '',
    '',
    textCell(board.id),
    textCell(board.material),
    board.marks,
    markedAt ?? '',
    ...[temperature, humidity, hours].map((value) => (value === undefined ? '' : String(value))),
    textCell(camera),
    textCell(notes),
    ...COLUMNS.flatMap((name) => {
      const quantity = quantities[name];
      if (quantity?.state !== 'measured') return ['', ''];
      const factor = SLOPES.has(name) ? PER_METRE : 1;
      return [quantity.value, quantity.u].map((value) =>
        String(Number((value * factor).toPrecision(9))),
      );
    }),
  ];
}

/** Begins a formula in a spreadsheet; also after blanks, and from another set of signs. Common practice. */
const RUNS = /^[\s]*[=+\-@\t\r\uff0b\uff0d\uff1d\uff20]/;

function textCell(text: string | undefined): string {
  if (text === undefined) return '';
  const plain = text.replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]/g, ' ');
  const tame = RUNS.test(plain) ? `'${plain}` : plain;
  return /[",\r\n\t']/.test(tame) ? `"${tame.replaceAll('"', '""')}"` : tame;
}
