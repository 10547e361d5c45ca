/** The result of looking at a fixture, `fixture.json`: the schema and, inferred from it, the type. */

import { z } from 'zod';
import { COVERAGE_FACTOR, findingSchema } from './measurement.js';

export const FIXTURE_SCHEMA_ID = 'gantrue/fixture/1';

const finite = z.number();
const uncertainty = z.number().nonnegative();
const place = z.object({ x: finite, y: finite });

const estimateSchema = z.object({
  value: finite,
  unit: z.enum(['mm', 'rad', '1']),
  /** Standard uncertainty, and expanded uncertainty k·u. */
  u: uncertainty,
  k: z.literal(COVERAGE_FACTOR),
  U: uncertainty,
});

const positionSchema = z.object({
  /** 2·√(dx² + dy²): the diameter of the zone about the nominal place that just holds the feature; mm. */
  deviation: estimateSchema,
  /** Of what is left, mm: measured minus expected. */
  dx: finite,
  dy: finite,
  /** ISO 14253-1; absent without a tolerance. */
  verdict: z.enum(['inside', 'outside', 'cannot tell']).optional(),
});

const featureSchema = z.object({
  name: z.string(),
  kind: z.enum(['hole', 'pin', 'dowel', 'insert', 'edge', 'corner']),
  role: z.enum(['round', 'slotted', 'clamp']).optional(),
  /** Machine coordinates; of an edge, the middle. */
  nominal: place,
  /** Ends of an edge in the layout, machine coordinates. */
  from: place.optional(),
  to: place.optional(),
  /** Standard deviation with which it was taken to be made, mm. */
  scatter: uncertainty.optional(),
  state: z.enum(['found', 'not found', 'covered']),
  reason: z.string().optional(),
  /** In which it was found. */
  photos: z.array(z.string()).optional(),
  height: z.object({ value: finite, u: uncertainty, known: z.boolean() }).optional(),
  /** As found. */
  diameter: estimateSchema.optional(),
  /** Where the machine would have to be sent to get there, mm; of an edge, the foot nearest the nominal middle. */
  machine: place.extend({ ux: uncertainty, uy: uncertainty }).optional(),
  /** Where it truly lies on the board, mm. */
  board: place.extend({ ux: uncertainty, uy: uncertainty }).optional(),
  tolerance: z.number().positive().optional(),
  /** Without any fit: against the nominal place in machine coordinates. */
  asPlaced: positionSchema.optional(),
  /** Left after the best offset and rotation in machine coordinates: what this machine will miss it by. */
  asUsed: positionSchema.optional(),
  /** Left after the best offset and rotation in true millimetres: the fixture's own shape. */
  asBuilt: positionSchema.optional(),
  /** Leave-one-out: chi-squared (2 degrees of freedom; 1 or 2 for an edge) of its distance from where the others say. */
  apart: z
    .object({
      chiSquared: finite,
      freedom: z.number().int(),
      probability: finite,
      dx: finite,
      dy: finite,
    })
    .optional(),
});

const placementSchema = z.object({
  /** Of the fixture at `at`: where it is, minus where it ought to be; mm. */
  offset: z.object({ x: estimateSchema, y: estimateSchema }),
  at: place,
  /** rad, + anticlockwise seen from above. */
  rotation: estimateSchema,
  /** The rotation over the fixture's length; mm. */
  overLength: z.object({
    length: finite,
    along: z.enum(['x', 'y']),
    value: finite,
    U: uncertainty,
  }),
  chiSquared: finite,
  freedom: z.number().int(),
  /** U was widened by this factor, because the features fit worse than their uncertainties. */
  widened: finite.optional(),
});

export const PLACEMENTS = ['as nominal', 'shifted', 'shifted and rotated'] as const;
export const SHAPES = [
  'as the machine goes',
  'true',
  'machine error doubled',
  'stretched',
  'one feature off',
  'none of these',
] as const;

const causeSchema = z.object({
  placement: z.enum(PLACEMENTS),
  shape: z.enum(SHAPES),
  /** The feature that is off. */
  feature: z.string().optional(),
  chiSquared: finite,
  parameters: z.number().int(),
  freedom: z.number().int(),
  logLikelihood: finite,
  /** Of belief among all that were tried; they sum to one. */
  share: finite,
});

const namedSchema = z.object({
  /** Absent where it can't be told. */
  named: z.string().optional(),
  share: finite,
  /** What it lies between where it can't be told. */
  between: z.array(z.string()).optional(),
});

export const fixtureSchema = z.object({
  schema: z.literal(FIXTURE_SCHEMA_ID),
  tool: z.object({ name: z.string(), version: z.string() }),
  measuredAt: z.string(),
  layout: z.object({
    file: z.string(),
    sha256: z.string().optional(),
    name: z.string().optional(),
    features: z.number().int(),
    /** Play of a dowel in its hole, and how far from its place a feature was looked for; mm. */
    clearance: uncertainty.optional(),
    search: uncertainty.optional(),
  }),
  /** The errors that lead from machine coordinates to true millimetres; a term that is not known is absent. */
  machine: z.object({
    from: z.enum(['photos', 'measurement', 'nothing']),
    file: z.string().optional(),
    sha256: z.string().optional(),
    scaleX: finite.optional(),
    scaleY: finite.optional(),
    squareness: finite.optional(),
    /** Whether a known length ties true millimetres to the metre. */
    scaleKnown: z.boolean(),
  }),
  photos: z.array(
    z.object({
      file: z.string(),
      sha256: z.string().optional(),
      used: z.boolean(),
      code: z.string().optional(),
      reason: z.string().optional(),
      /** The picture with the features in it, in the same folder. */
      overlay: z.string().optional(),
    }),
  ),
  points: z
    .object({
      file: z.string(),
      sha256: z.string().optional(),
      frame: z.enum(['machine', 'board']),
    })
    .optional(),
  features: z.array(featureSchema),
  /** Absent where fewer than two features were found. */
  inMachine: placementSchema.optional(),
  onBoard: placementSchema.optional(),
  correction: z
    .object({
      leaveAlone: z.boolean(),
      why: z.string(),
      /** Where the fixture's zero really is, machine coordinates, mm, with the rotation about that point. */
      workOffset: z.object({ x: estimateSchema, y: estimateSchema }),
      /** degrees, + anticlockwise. */
      rotationDegrees: z.object({ value: finite, U: uncertainty }),
      /** Where only the offset can be set. */
      offsetAlone: place,
      shim: z
        .object({
          thickness: finite,
          U: uncertainty,
          end: z.string(),
          toward: z.string(),
          /** How far off the fixture then still lies: it turned about its other end. */
          offsetLeft: place,
        })
        .optional(),
    })
    .optional(),
  /** All that was tried, the likeliest first. */
  causes: z.array(causeSchema),
  cause: z
    .object({
      placement: namedSchema,
      shape: namedSchema,
      /** Where one feature is off. */
      feature: z.string().optional(),
      /** Where the pattern is stretched, by this much; 1. */
      stretch: z.object({ x: estimateSchema, y: estimateSchema }).optional(),
      /** Which of machine, board and fixture it is. */
      which: z.enum([
        'nothing',
        'fixture',
        'machine',
        'board',
        'one feature',
        'none of these',
        'cannot tell',
      ]),
    })
    .optional(),
  findings: z.array(findingSchema),
  cautions: z.array(z.string()),
});

export type FixtureResult = z.infer<typeof fixtureSchema>;
export type FixtureFeatureRecord = z.infer<typeof featureSchema>;
export type FixturePlacementRecord = z.infer<typeof placementSchema>;
export type FixtureCorrection = NonNullable<FixtureResult['correction']>;
export type FixtureCauseRecord = z.infer<typeof causeSchema>;
export type FixturePosition = z.infer<typeof positionSchema>;
export type FixtureEstimate = z.infer<typeof estimateSchema>;
export type Placement = (typeof PLACEMENTS)[number];
export type Shape = (typeof SHAPES)[number];
