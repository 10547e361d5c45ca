/** What `gantrue forecast --json` prints: the uncertainty that a grid, a camera and photos will reach. */

import { z } from 'zod';
import { QUANTITY_KEYS } from '../quantity-keys.js';
import { COVERAGE_FACTOR, findingSchema } from './measurement.js';

export const FORECAST_SCHEMA_ID = 'gantrue/forecast/1';

const uncertainty = z.number().nonnegative();
const unitSchema = z.enum(['rad', 'rad/m', 'mm', '1']);

const stateSchema = z.enum(['measured', 'weak', 'undetermined']);

const shareSchema = z.object({
  photos: z.number(),
  marks: z.number(),
  evidence: z.number(),
  camera: z.number(),
});

const quantitySchema = z.object({
  what: z.enum(QUANTITY_KEYS),
  /** In the middle one of several ways in which hands may tilt the phone. */
  state: stateSchema,
  unit: unitSchema,
  k: z.literal(COVERAGE_FACTOR),
  /** Expanded uncertainty; absent where undetermined. */
  U: uncertainty.optional(),
  /** The same in the least fortunate way but one. */
  unlucky: z.object({ state: stateSchema, U: uncertainty.optional() }),
  /** Where its variance comes from; the shares sum to one. */
  share: shareSchema.optional(),
  /** Why it is not measured, and what would make it so. */
  reason: z.string().optional(),
  add: z.array(z.string()).optional(),
});

/**
 * `overhead`: from above, each a quarter turn of the phone from the last one; `unturned`: from above, the
 * phone always held the same way round; `walked`: tilted, from places evenly round the board, the phone upright
 * for whoever holds it.
 */
export const PHOTO_KINDS = ['overhead', 'unturned', 'walked'] as const;

const photoGroupSchema = z.object({
  kind: z.enum(PHOTO_KINDS),
  count: z.number().int().positive(),
  tiltRad: z.number().nonnegative(),
});

const askedSchema = z.object({
  what: z.enum(QUANTITY_KEYS),
  unit: unitSchema,
  /** Expanded uncertainty that is wanted. */
  U: z.number().positive(),
});

const triedSchema = z.object({
  photos: z.array(photoGroupSchema),
  /** Lengths taped besides those that were given. */
  lengths: z.array(z.string()),
  /** Rough time it takes. */
  minutes: z.number(),
  reached: z.boolean(),
  /** Of what was asked, in its order: in the least fortunate way but one that was looked at; null: not measured. */
  U: z.array(uncertainty.nullable()),
});

export const forecastSchema = z.object({
  schema: z.literal(FORECAST_SCHEMA_ID),
  tool: z.object({ name: z.string(), version: z.string() }),
  program: z.string(),
  /** Of a board that is turned, anticlockwise seen from above, between this program and a second one. */
  second: z.object({ program: z.string(), turnRad: z.number() }).optional(),
  /** Numbers of lines and what they span, mm. */
  grid: z.object({
    linesAtX: z.number().int(),
    linesAtY: z.number().int(),
    width: z.number(),
    height: z.number(),
  }),
  gantryAxis: z.enum(['x', 'y', 'none']),
  /** Lengths after which the drives' errors repeat, where the machine file states them, mm. */
  periods: z.object({ x: z.number().positive().optional(), y: z.number().positive().optional() }),
  camera: z.object({
    widthPx: z.number().int(),
    heightPx: z.number().int(),
    focalLengthPx: z.number(),
    /** Whether the photos say it. */
    focalLengthKnown: z.boolean(),
  }),
  photos: z.array(photoGroupSchema),
  /** Share of the picture that the grid fills, and board millimetres per pixel then. */
  fill: z.number(),
  mmPerPx: z.number(),
  /** Standard deviations that were assumed. */
  assumed: z.object({
    sigmaPixel: z.number(),
    sigmaMark: z.number(),
    straightness: z.number(),
    lines: z.number(),
    board: z.number(),
  }),
  /** Lengths and square checks that were counted in. */
  evidence: z.array(z.string()),
  quantities: z.array(quantitySchema),
  /** The search for the cheapest set of photos; absent where nothing was asked. */
  want: z
    .object({
      asked: z.array(askedSchema),
      /** In order of cost, those left out that lack what others have shown to be needed. */
      tried: z.array(triedSchema),
      /** Index into `tried`; absent where none reaches it. */
      cheapest: z.number().int().optional(),
      /** Where none does: what stands in the way of the strongest. */
      limit: z
        .object({
          what: z.enum(QUANTITY_KEYS),
          U: uncertainty.optional(),
          source: z.enum(['photos', 'marks', 'evidence', 'camera']).optional(),
          share: z.number().optional(),
          reason: z.string().optional(),
        })
        .optional(),
    })
    .optional(),
  /** Doubts about the program, coded as in a measurement. */
  findings: z.array(findingSchema),
});

export type Forecast = z.infer<typeof forecastSchema>;
export type ForecastQuantity = Forecast['quantities'][number];
export type ForecastName = ForecastQuantity['what'];
export type ForecastWant = NonNullable<Forecast['want']>;
