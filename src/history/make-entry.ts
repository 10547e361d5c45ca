/** A measurement with its circumstances, or an event, as the history keeps them. */

import { createHash, randomBytes } from 'node:crypto';
import type { EventKind, MarksAge } from '../../shared/history-kinds.js';
import type { EvidenceFile } from '../../shared/schemas/evidence.js';
import type { EventEntry, MeasurementEntry } from '../../shared/schemas/history.js';
import { DEFAULT_LIMITS, type MachineFile } from '../../shared/schemas/machine.js';
import type { Measurement } from '../../shared/schemas/measurement.js';
import { boardMayHaveMoved } from '../correction/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { listQuantities } from './list-quantities.js';

/** What stands neither in the measurement nor in the two files. */
export interface Circumstances {
  readonly machineName?: string;
  readonly at?: Date;
  /** °C and % relative humidity. */
  readonly temperature?: number;
  readonly humidity?: number;
  readonly boardId?: string;
  readonly boardMaterial?: string;
  readonly marks?: MarksAge;
  readonly hours?: number;
  readonly notes?: string;
}

export interface EntrySource {
  readonly measurement: Measurement;
  readonly machine?: MachineFile | undefined;
  readonly evidence?: EvidenceFile | undefined;
  readonly circumstances: Circumstances;
  readonly now: Date;
}

/** Fails: WRONG_CALL where nothing names the machine. */
export function makeMeasurementEntry(source: EntrySource): Outcome<MeasurementEntry> {
  const { measurement, machine, evidence, circumstances, now } = source;
  const name = nameMachine(circumstances.machineName ?? machine?.name ?? measurement.machine);
  if (!name.ok) return name;
  const takenAt = measurement.photos.find(({ used, takenAt: at }) => used && at)?.takenAt;
  const markedAt = readDay(evidence?.marked?.date);
  const temperature = circumstances.temperature ?? evidence?.temperature;
  const humidity = circumstances.humidity ?? evidence?.humidity;
  const material = circumstances.boardMaterial ?? machine?.bed?.material;
  const notes = circumstances.notes ?? evidence?.notes;
  const settings = listSettings(machine);
  const entry: MeasurementEntry = {
    kind: 'measurement',
    uid: fingerprint(measurement),
    machine: name.value,
    at: (circumstances.at ?? momentOf(measurement, evidence, takenAt, now)).toISOString(),
    addedAt: now.toISOString(),
    ...(notes === undefined ? {} : { notes }),
    ...(markedAt === undefined ? {} : { markedAt: markedAt.toISOString() }),
    ...(temperature === undefined ? {} : { temperature }),
    ...(humidity === undefined ? {} : { humidity }),
    board: {
      ...(circumstances.boardId === undefined ? {} : { id: circumstances.boardId }),
      ...(material === undefined ? {} : { material }),
      // Beside fresh marks the values are those of the old ones.
      marks:
        circumstances.marks ??
        (measurement.fresh === undefined ? ageOfMarks(evidence, takenAt) : 'old'),
    },
    ...(circumstances.hours === undefined ? {} : { hours: circumstances.hours }),
    ...(settings === undefined ? {} : { settings }),
    ...(machine === undefined ? {} : { limits: limitsOf(machine) }),
    measurement: prune(measurement),
  };
  return success(entry);
}

export interface EventSource {
  readonly machine: string;
  readonly event: EventKind;
  readonly text: string;
  readonly at: Date;
  readonly now: Date;
  readonly notes?: string;
}

/** Fails: WRONG_CALL for an empty text or name. */
export function makeEventEntry(source: EventSource): Outcome<EventEntry> {
  const name = nameMachine(source.machine);
  if (!name.ok) return name;
  const text = source.text.trim();
  if (text === '') return failed('WRONG_CALL', 'the event has no words: say what happened');
  return success({
    kind: 'event',
    uid: randomBytes(16).toString('hex'),
    machine: name.value,
    at: source.at.toISOString(),
    addedAt: source.now.toISOString(),
    ...(source.notes === undefined ? {} : { notes: source.notes }),
    event: source.event,
    text,
  });
}

function nameMachine(name: string | undefined): Outcome<string> {
  const trimmed = (name ?? '').trim();
  return trimmed === ''
    ? failed(
        'WRONG_CALL',
        'nothing names the machine, and the history keeps machines apart by name',
        {
          hint: 'put `name` into the machine file (--machine), or say --machine-name',
        },
      )
    : success(trimmed);
}

/**
 * A day in the evidence, or a date and time of the camera, which knows no zone: taken as the computer's own, so
 * that it falls into place among events, which are noted by the computer's clock. A bare day is its noon.
 */
export function readDay(text: string | undefined): Date | undefined {
  const match =
    /^(\d{4})[-:](\d{2})[-:](\d{2})(?:[T ](\d{2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?)?(Z|[+-]\d{2}:\d{2})?$/.exec(
      text?.trim() ?? '',
    );
  if (match === null) return undefined;
  const [year, month, day, hour, minute, second] = match
    .slice(1, 7)
    .map((part) => (part === undefined ? undefined : Number(part)));
  const isReal = new Date(Date.UTC(year!, month! - 1, day!)).getUTCDate() === day && month! <= 12;
  if (!isReal) return undefined;
  const date =
    match[7] === undefined
      ? new Date(year!, month! - 1, day!, hour ?? 12, minute ?? 0, second ?? 0)
      : new Date(text!.trim().replace(' ', 'T'));
  return Number.isNaN(date.getTime()) ? undefined : date;
}

/** Phones did not take such photos before; a clock that runs ahead by more is not set. */
const EARLIEST_MS = Date.UTC(2000, 0, 1);
const AHEAD_MS = 86_400_000;

function momentOf(
  { measuredAt }: Measurement,
  evidence: EvidenceFile | undefined,
  takenAt: string | undefined,
  now: Date,
): Date {
  const isPlausible = (date: Date | undefined) =>
    date !== undefined &&
    date.getTime() >= EARLIEST_MS &&
    date.getTime() <= now.getTime() + AHEAD_MS;
  const [photographed, stated] = [readDay(takenAt), readDay(evidence?.taken)].map((date) =>
    isPlausible(date) ? date : undefined,
  );
  if (stated === undefined) return photographed ?? new Date(measuredAt);
  const isSameDay = photographed?.toDateString() === stated.toDateString();
  return isSameDay && photographed !== undefined ? photographed : stated;
}

function ageOfMarks(evidence: EvidenceFile | undefined, takenAt: string | undefined): MarksAge {
  if (evidence?.marked === undefined) return 'unknown';
  if (boardMayHaveMoved(evidence, takenAt) !== undefined) return 'old';
  const isDated = evidence.marked.date !== undefined && (evidence.taken ?? takenAt) !== undefined;
  return isDated ? 'fresh' : 'unknown';
}

function listSettings(machine: MachineFile | undefined): Record<string, number> | undefined {
  if (machine?.axes === undefined) return undefined;
  const settings: Record<string, number> = {};
  for (const axis of ['x', 'y'] as const) {
    for (const [key, value] of Object.entries(machine.axes[axis] ?? {})) {
      if (typeof value === 'number') settings[`${axis}.${key}`] = value;
    }
  }
  return settings;
}

function limitsOf({ limits }: MachineFile) {
  return {
    squareness: limits?.squareness ?? DEFAULT_LIMITS.squareness,
    scale: limits?.scale ?? DEFAULT_LIMITS.scale,
    lostMotion: limits?.lostMotion ?? DEFAULT_LIMITS.lostMotion,
    straightness: limits?.straightness ?? DEFAULT_LIMITS.straightness,
  };
}

/** What only the report draws is left out: it would be most of the history's size. */
function prune(measurement: Measurement): Measurement {
  return {
    ...measurement,
    photos: measurement.photos.map(({ verdict, corners, overlay, rectified, ...photo }) => photo),
  };
}

/**
 * Of what was measured and when: the same for the file as written and as read again, whatever the order of its
 * keys.
 */
function fingerprint(measurement: Measurement): string {
  const { measuredAt, photos, placements, points } = measurement;
  const quantities = Object.entries(listQuantities(measurement)).map(([name, quantity]) =>
    quantity.state === 'undetermined' ? [name] : [name, quantity.value, quantity.u],
  );
  const parts = [
    measuredAt,
    quantities,
    photos.map(({ sha256, file }) => sha256 ?? file),
    placements.map(({ sha256, program }) => sha256 ?? program),
    (points ?? []).map(({ sha256 }) => sha256),
  ];
  return createHash('sha256').update(JSON.stringify(parts)).digest('hex').slice(0, 32);
}
