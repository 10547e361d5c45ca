/** When a board was marked and photographed, as far as a measurement tells. */

import type { Measurement } from '../../shared/schemas/measurement.js';

export type Dated = Pick<Measurement, 'measuredAt' | 'photos'> &
  Partial<Pick<Measurement, 'marked' | 'taken'>>;

/** ms; EXIF and ISO 8601 are read alike, without a time zone: compare only times of one kind. */
export interface TimeSpan {
  readonly first: number;
  readonly last: number;
}

/** When the photos say they were taken, first and last; undefined where none says so. */
export function photographed({ photos }: Dated): TimeSpan | undefined {
  const times = photos
    .filter(({ used }) => used)
    .map(({ takenAt }) => timeOf(takenAt))
    .filter((time) => time !== undefined);
  if (times.length === 0) return undefined;
  return { first: Math.min(...times), last: Math.max(...times) };
}

/** The day on which the board was seen: as stated, as its photos say, else when it was evaluated; ms. */
export function daySeen(measurement: Dated): number | undefined {
  const time =
    timeOf(measurement.taken) ?? photographed(measurement)?.first ?? timeOf(measurement.measuredAt);
  return time === undefined ? undefined : dayOf(time);
}

/** The day on which it was marked, where that was stated; ms. */
export function dayMarked({ marked }: Dated): number | undefined {
  const time = timeOf(marked);
  return time === undefined ? undefined : dayOf(time);
}

/** EXIF writes its dates with colons. */
export function timeOf(text: string | undefined): number | undefined {
  const parts = /^(\d{4})[-:](\d{2})[-:](\d{2})(?:[T ](\d{2}):(\d{2})(?::(\d{2}))?)?/.exec(
    text ?? '',
  );
  if (parts === null) return undefined;
  const [year, month, day, hour, minute, second] = parts.slice(1).map((part) => Number(part ?? 0));
  return Date.UTC(year!, month! - 1, day!, hour!, minute!, second!);
}

const DAY_MS = 86_400_000;

function dayOf(timeMs: number): number {
  return Math.floor(timeMs / DAY_MS) * DAY_MS;
}
