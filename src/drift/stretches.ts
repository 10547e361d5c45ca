/** Measurements of one machine, parted where no trend may be drawn across. */

import type { EventKind } from '../../shared/history-kinds.js';
import type { EventRow, MeasurementRow } from '../history/index.js';

export interface Break {
  /** When it happened; of a board or settings that changed unannounced, the first measurement after. */
  readonly at: string;
  readonly kind: EventKind;
  /** In words. */
  readonly because: readonly string[];
  /** Index of the first row after it. */
  readonly before: number;
}

export interface Series {
  readonly shows: 'machine' | 'board';
  readonly board?: string;
  /** Oldest first. */
  readonly rows: readonly MeasurementRow[];
  readonly breaks: readonly Break[];
}

/**
 * Fresh marks, and marks of unknown age, show the machine; old marks show their board, together with the photos
 * taken when these marks were new.
 *
 * @param rows, events oldest first.
 */
export function listSeries(rows: readonly MeasurementRow[], events: readonly EventRow[]): Series[] {
  const ofMachine = rows.filter(({ board }) => board.marks !== 'old');
  const boards = new Set(rows.filter(isOld).map(({ board }) => board.id));
  return [
    ...(ofMachine.length === 0
      ? []
      : [
          {
            shows: 'machine' as const,
            rows: ofMachine,
            breaks: breaksOfMachine(ofMachine, events),
          },
        ]),
    ...[...boards].map((id) => seriesOfBoard(id, rows, events)),
  ];
}

function isOld({ board }: MeasurementRow): boolean {
  return board.marks === 'old';
}

function seriesOfBoard(
  id: string | undefined,
  rows: readonly MeasurementRow[],
  events: readonly EventRow[],
): Series {
  const old = rows.filter((row) => isOld(row) && row.board.id === id);
  const own = rows.filter((row) => old.includes(row) || isBirthOf(row, old, rows, id));
  const breaks = own.slice(1).flatMap((row, i): Break[] => {
    const earlier = own[i]!;
    const surfaced = eventsBetween(events, earlier.at, row.at).filter(
      ({ event }) => event === 'board',
    );
    const because = surfaced.map(({ text }) => text);
    const marks = birthDay(row) !== birthDay(earlier) && row.markedAt && earlier.markedAt;
    if (marks) because.push('other marks');
    const at = surfaced.at(-1)?.at ?? row.at;
    return because.length === 0 ? [] : [{ at, kind: 'board', because, before: i + 1 }];
  });
  return { shows: 'board', ...(id === undefined ? {} : { board: id }), rows: own, breaks };
}

/** The photos of these marks when they were new: the day is stated, or they are the last fresh ones before. */
function isBirthOf(
  row: MeasurementRow,
  old: readonly MeasurementRow[],
  rows: readonly MeasurementRow[],
  id: string | undefined,
): boolean {
  // Of boards without a name nobody knows which is which.
  if (id === undefined || row.board.id !== id || row.board.marks !== 'fresh') return false;
  return old.some((one) => {
    if (one.markedAt !== undefined) return birthDay(one) === birthDay(row);
    const before = rows.filter(
      (other) => other.board.id === id && other.board.marks === 'fresh' && other.at <= one.at,
    );
    return before.at(-1) === row;
  });
}

/** Of fresh marks without a date, the day of their photos. */
function birthDay({ markedAt, at }: MeasurementRow): string {
  return new Date(markedAt ?? at).toDateString();
}

function breaksOfMachine(rows: readonly MeasurementRow[], events: readonly EventRow[]): Break[] {
  const isKept = keptBoards(rows);
  return rows.slice(1).flatMap((row, i): Break[] => {
    const earlier = rows[i]!;
    const happened = eventsBetween(events, earlier.at, row.at).filter(
      ({ event }) => event !== 'note',
    );
    const because = happened.map(({ text }) => text);
    const settings = changedSettings(earlier, row);
    because.push(...settings);
    const [from, to] = [earlier.board.id, row.board.id];
    const isOtherBoard =
      from !== undefined && to !== undefined && from !== to && (isKept.has(from) || isKept.has(to));
    if (isOtherBoard) because.push(`another board: ${to} after ${from}`);
    if (because.length === 0) return [];
    const kind = happened.at(-1)?.event ?? (settings.length > 0 ? 'settings' : 'board');
    return [{ at: happened.at(-1)?.at ?? row.at, kind, because, before: i + 1 }];
  });
}

/** Boards that were marked more than once: where each serves once, boards change all the time. */
function keptBoards(rows: readonly MeasurementRow[]): Set<string> {
  const [once, kept] = [new Set<string>(), new Set<string>()];
  for (const { board } of rows) {
    if (board.id === undefined) continue;
    if (once.has(board.id)) kept.add(board.id);
    once.add(board.id);
  }
  return kept;
}

function changedSettings(earlier: MeasurementRow, later: MeasurementRow): string[] {
  if (earlier.settings === undefined || later.settings === undefined) return [];
  const { settings } = later;
  return Object.entries(earlier.settings).flatMap(([name, from]) => {
    const to = settings[name];
    return to === undefined || to === from ? [] : [`${name} ${from} → ${to}`];
  });
}

/** Instants are in UTC and of one form, so that they compare as texts. */
function eventsBetween(events: readonly EventRow[], after: string, until: string): EventRow[] {
  let [low, high] = [0, events.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (events[middle]!.at > after) high = middle;
    else low = middle + 1;
  }
  const found: EventRow[] = [];
  for (let i = low; i < events.length && events[i]!.at <= until; i++) found.push(events[i]!);
  return found;
}
