/** The history: measurements and events of machines, and the file that `gantrue log export` writes. */

import { z } from 'zod';
import { EVENT_KINDS, MARKS_AGES } from '../history-kinds.js';
import { measurementSchema } from './measurement.js';

export const HISTORY_SCHEMA_ID = 'gantrue/history/1';

/** RFC 3339, in UTC. */
const instant = z.iso.datetime();

const common = {
  /** The same in every copy of the history. */
  uid: z.string().regex(/^[0-9a-f]{32}$/),
  machine: z.string().min(1),
  /** When photographed, or when it happened. */
  at: instant,
  addedAt: instant,
  /** Present where it was removed. */
  removedAt: instant.optional(),
  notes: z.string().optional(),
};

export const limitsSchema = z.object({
  squareness: z.number().positive(),
  scale: z.number().positive(),
  lostMotion: z.number().positive(),
  straightness: z.number().positive(),
});

export const measurementEntrySchema = z.object({
  kind: z.literal('measurement'),
  ...common,
  /** When the marks were made; absent where unknown. */
  markedAt: instant.optional(),
  /** °C and % relative humidity, of the board when it was photographed. */
  temperature: z.number().optional(),
  humidity: z.number().optional(),
  board: z.object({
    id: z.string().optional(),
    material: z.string().optional(),
    marks: z.enum(MARKS_AGES),
  }),
  /** Running hours of the machine. */
  hours: z.number().nonnegative().optional(),
  /** Settings in force: `x.stepsPerMm` and its like. */
  settings: z.record(z.string(), z.number()).optional(),
  /** mm/m, mm/m, mm, mm; absent where no machine file was given. */
  limits: limitsSchema.optional(),
  measurement: measurementSchema,
});

export const eventEntrySchema = z.object({
  kind: z.literal('event'),
  ...common,
  event: z.enum(EVENT_KINDS),
  text: z.string().min(1),
});

export const historyEntrySchema = z.discriminatedUnion('kind', [
  measurementEntrySchema,
  eventEntrySchema,
]);

export const historySchema = z.object({
  schema: z.literal(HISTORY_SCHEMA_ID),
  tool: z.object({ name: z.string(), version: z.string() }),
  exportedAt: instant,
  entries: z.array(historyEntrySchema),
});

export type MeasurementEntry = z.infer<typeof measurementEntrySchema>;
export type EventEntry = z.infer<typeof eventEntrySchema>;
export type HistoryEntry = z.infer<typeof historyEntrySchema>;
export type HistoryExport = z.infer<typeof historySchema>;
export type Limits = z.infer<typeof limitsSchema>;
