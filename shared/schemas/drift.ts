/** What a history says of machines and boards over time: `drift --json`. */

import { z } from 'zod';
import { EVENT_KINDS, MARKS_AGES } from '../history-kinds.js';
import { QUANTITY_KEYS } from '../quantity-keys.js';
import { limitsSchema } from './history.js';

export const DRIFT_SCHEMA_ID = 'gantrue/drift/1';

const instant = z.iso.datetime();
const what = z.enum(QUANTITY_KEYS);
const unit = z.enum(['rad', 'rad/m', 'mm', '1']);
const interval = z.object({ low: z.number(), high: z.number() });

export const RUNS_RULE_NAMES = [
  'beyond',
  'two of three',
  'four of five',
  'one side',
  'steadily',
] as const;

/** Slopes per month of 365.2425 / 12 days, in the quantity's unit. */
const trendSchema = z.object({
  /** Theil and Sen's. */
  perMonth: z.number(),
  /** Of it, 95 %. */
  interval,
  /** Mann and Kendall's test. */
  test: z.object({ S: z.number(), tau: z.number(), Z: z.number(), p: z.number() }),
  /** Least squares weighted by the stated uncertainties; u from them, and from the scatter about the line. */
  weighted: z.object({
    perMonth: z.number(),
    u: z.number(),
    uFromScatter: z.number(),
    chiSquared: z.number(),
    degrees: z.number(),
  }),
});

const chartsSchema = z.object({
  centre: z.number(),
  /** Limits for single values: from the moving ranges, and from the measurements' own u. */
  fromRanges: interval,
  fromU: interval,
  /** Exponentially weighted moving average of the values after the first `baseline` ones; λ = `weight`. */
  average: z
    .object({
      weight: z.number(),
      baseline: z.object({ values: z.number().int(), mean: z.number() }),
      value: z.number(),
      fromRanges: interval,
      fromU: interval,
    })
    .optional(),
  /** Patterns that chance seldom makes, newest last. */
  signals: z.array(
    z.object({ rule: z.enum(RUNS_RULE_NAMES), limits: z.enum(['ranges', 'u']), at: instant }),
  ),
});

const crossingSchema = z.object({
  /** mm/m or mm. */
  limit: z.number(),
  unit: z.enum(['mm/m', 'mm']),
  /** `beyond`: it already is; `never`: it moves away or stands still; `far`: later than can be foretold. */
  state: z.enum(['beyond', 'expected', 'far', 'never']),
  at: instant.optional(),
  /** 95 %; without `latest` it may never come to it. */
  earliest: instant.optional(),
  latest: instant.optional(),
});

const driftQuantitySchema = z.object({
  what,
  unit,
  /**
   * `drifts`: a trend; `jumped`: it stands elsewhere since a moment; `scatters`: more than its uncertainty explains;
   * `steady`: nothing but measuring noise; `too few`: fewer than three values.
   */
  verdict: z.enum(['drifts', 'jumped', 'scatters', 'steady', 'too few']),
  /** Measured values, and how many were left out because they were weak or undetermined. */
  values: z.number().int(),
  leftOut: z.number().int(),
  /** So many neighbours were joined to one point. */
  joined: z.number().int().optional(),
  latest: z.object({ at: instant, value: z.number(), u: z.number() }).optional(),
  mean: z.object({ value: z.number(), u: z.number() }).optional(),
  /** Standard deviation of a single value: from moving ranges, and the median of the stated u. */
  noise: z.object({ fromRanges: z.number(), stated: z.number() }).optional(),
  trend: trendSchema.optional(),
  /** Where it jumped: the first value after, and by how much, with expanded uncertainty. */
  jump: z.object({ at: instant, change: z.number(), U: z.number() }).optional(),
  charts: chartsSchema.optional(),
  crossing: crossingSchema.optional(),
});

const changeSchema = z.object({
  what,
  unit,
  before: z.number(),
  after: z.number(),
  /** After less before, with expanded uncertainty. */
  change: z.number(),
  U: z.number(),
  /** Larger than one and a half times U: many are asked at once. */
  changed: z.boolean(),
});

const breakSchema = z.object({
  at: instant,
  /** In words: the event, the settings that changed, the other board. */
  because: z.array(z.string()),
  kind: z.enum([...EVENT_KINDS]),
  changes: z.array(changeSchema),
});

const seriesSchema = z.object({
  /** Fresh marks show the machine, old ones the board. */
  shows: z.enum(['machine', 'board']),
  board: z.string().optional(),
  material: z.string().optional(),
  /** Of the stretch that the quantities below are about: since the last break. */
  from: instant,
  to: instant,
  measurements: z.number().int(),
  /** Of them, such whose marks were of unknown age. */
  unknownMarks: z.number().int(),
  quantities: z.array(driftQuantitySchema),
  breaks: z.array(breakSchema),
});

/** How far a quantity came from the beginning of a stretch to its end. */
const moveSchema = z.object({
  what,
  unit,
  change: z.number(),
  U: z.number(),
  moved: z.boolean(),
});

/** What speaks for the machine or for a board. */
const seenSchema = z.object({
  shows: z.enum(['machine', 'board']),
  board: z.string().optional(),
  /** `unknown` where the age of any of the marks is. */
  marks: z.enum(MARKS_AGES),
  since: instant,
  moves: z.array(moveSchema),
  /** Change of the relative humidity meanwhile, in points, and what MDF would make of it: change of both scales. */
  humidity: z.object({ change: z.number(), expected: interval, fits: z.boolean() }).optional(),
});

export const TODO_NAMES = [
  'fresh ladder',
  'state marks',
  'leave steps',
  'mend machine',
  'look for play',
  'measure more',
] as const;

const machineDriftSchema = z.object({
  machine: z.string(),
  /** In all, without those that were removed. */
  measurements: z.number().int(),
  events: z.number().int(),
  /** The higher, the sooner it needs somebody. */
  urgency: z.number(),
  /** What makes it so. */
  reason: z.object({
    kind: z.enum([
      'outside',
      'crossing',
      'drifts',
      'jumped',
      'scatters',
      'board',
      'stale',
      'calm',
      'too few',
    ]),
    what: what.optional(),
    at: instant.optional(),
  }),
  /** mm/m, mm/m, mm, mm: those of the newest measurement that states some, or as the call says. */
  limits: limitsSchema,
  series: z.array(seriesSchema),
  explanation: z.object({
    /** What moved: `neither` where nothing did. */
    verdict: z.enum(['machine', 'board', 'both', 'neither', 'cannot tell']),
    seen: z.array(seenSchema),
    todo: z.array(z.enum(TODO_NAMES)),
  }),
  /** Events that nothing was measured after. */
  unmeasured: z.array(z.object({ at: instant, text: z.string() })),
});

export const driftSchema = z.object({
  schema: z.literal(DRIFT_SCHEMA_ID),
  tool: z.object({ name: z.string(), version: z.string() }),
  /** When it was worked out. */
  asOf: instant,
  /** Most urgent first. */
  machines: z.array(machineDriftSchema),
});

export type MachineDrift = z.infer<typeof machineDriftSchema>;
export type DriftSeries = z.infer<typeof seriesSchema>;
export type DriftQuantity = z.infer<typeof driftQuantitySchema>;
export type DriftCrossing = z.infer<typeof crossingSchema>;
export type DriftBreak = z.infer<typeof breakSchema>;
export type DriftMove = z.infer<typeof moveSchema>;
export type DriftSeen = z.infer<typeof seenSchema>;
export type DriftExplanation = MachineDrift['explanation'];
export type DriftReason = MachineDrift['reason'];
export type DriftTodo = DriftExplanation['todo'][number];
export type DriftVerdict = DriftQuantity['verdict'];
