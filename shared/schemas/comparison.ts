/** Two measurements of one machine compared: the schema of `compare --json` and, inferred from it, the type. */

import { z } from 'zod';
import { MACHINE_KEYS } from '../quantity-keys.js';
import { COVERAGE_FACTOR, findingSchema, quantitySchema } from './measurement.js';

export const COMPARISON_SCHEMA_ID = 'gantrue/comparison/1';

/** What is compared, in the order in which it is shown. */
export const COMPARED_QUANTITIES = MACHINE_KEYS;

export const CHANGE_VERDICTS = [
  'did what was proposed',
  'moved the wrong way',
  'moved too little',
  'moved too far',
  'no change beyond U',
  'changed though nothing was proposed',
  'cannot tell',
] as const;

const uncertainty = z.number().nonnegative();

const measuredSchema = z.object({
  file: z.string(),
  /** ISO 8601. */
  measuredAt: z.string(),
  machine: z.string().optional(),
});

const changeSchema = z.object({
  /** After minus before, in the quantity's own unit. */
  value: z.number(),
  /** Root of the sum of squares of both standard uncertainties. */
  u: uncertainty,
  k: z.literal(COVERAGE_FACTOR),
  U: uncertainty,
  /** |value| / U: the normalised error of the change against no change. */
  En: uncertainty,
});

const proposedSchema = z.object({
  /** What the change should have been, had the proposal been carried out exactly. */
  change: z.number(),
  /** Normalised error of the change against it; absent where no change can be told. */
  En: uncertainty.optional(),
  /** Change over proposed change, with its expanded uncertainty; absent where no change can be told. */
  factor: z.object({ value: z.number(), U: uncertainty }).optional(),
});

/** An influence that both measurements have in common, so that they are not independent. */
const commonSchema = z.object({
  influence: z.enum(['camera', 'tape']),
  /** True: U of the change is too large rather than too small. */
  cautious: z.boolean(),
  why: z.string(),
});

const comparedSchema = z.object({
  what: z.enum(COMPARED_QUANTITIES),
  before: quantitySchema,
  after: quantitySchema,
  /** Absent where either value is undetermined. */
  change: changeSchema.optional(),
  /** Absent where nothing was proposed. */
  proposed: proposedSchema.optional(),
  verdict: z.enum(CHANGE_VERDICTS),
  why: z.string(),
  /** What to do about it. */
  hint: z.string().optional(),
  /** Where the quantity stands against its limit now; absent where it has none. */
  limit: z
    .object({
      limit: z.number(),
      unit: z.enum(['mm/m', 'mm']),
      verdict: z.enum(['inside', 'outside', 'cannot tell']),
    })
    .optional(),
  /** Independence is assumed all the same; absent where nothing is in common. */
  common: z.array(commonSchema).optional(),
});

export const comparisonSchema = z.object({
  schema: z.literal(COMPARISON_SCHEMA_ID),
  before: measuredSchema,
  after: measuredSchema,
  quantities: z.array(comparedSchema),
  findings: z.array(findingSchema),
});

export const REGIONS_SCHEMA_ID = 'gantrue/regions/1';

const regionQuantitySchema = z.object({
  what: z.enum(COMPARED_QUANTITIES),
  /** In the order of the measurements. */
  values: z.array(quantitySchema),
  /** Of the measured ones, weighted by 1/u²; absent for fewer than two. */
  mean: z
    .object({
      value: z.number(),
      unit: z.string(),
      u: uncertainty,
      k: z.literal(COVERAGE_FACTOR),
      U: uncertainty,
    })
    .optional(),
  /** Of the values about their mean, and the chance of as much or more. */
  chiSquared: z.number().optional(),
  p: z.number().optional(),
  verdict: z.enum(['agrees', 'differs from place to place', 'cannot tell']),
});

/** Several measurements of one machine at places of its bed: `compare --regions --json`. */
export const regionsSchema = z.object({
  schema: z.literal(REGIONS_SCHEMA_ID),
  measurements: z.array(measuredSchema),
  quantities: z.array(regionQuantitySchema),
});

export type Regions = z.infer<typeof regionsSchema>;
export type RegionQuantity = z.infer<typeof regionQuantitySchema>;
export type Comparison = z.infer<typeof comparisonSchema>;
export type Compared = z.infer<typeof comparedSchema>;
export type ComparedName = (typeof COMPARED_QUANTITIES)[number];
export type ChangeVerdict = (typeof CHANGE_VERDICTS)[number];
export type CommonInfluence = z.infer<typeof commonSchema>;
