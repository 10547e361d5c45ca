/** The record of a laid-out grid, `plan.json`: what its program marks. */

import { z } from 'zod';

export const PLAN_SCHEMA_ID = 'gantrue/plan/1';

const finite = z.number();
const place = z.tuple([finite, finite]);
const approach = z.union([z.literal(-1), z.literal(0), z.literal(1)]);

const strokeSchema = z.object({
  kind: z.enum(['origin', 'centre', 'outline', 'line', 'rung', 'code', 'again']),
  /** Commanded ends, mm, work coordinates. */
  from: place,
  to: place,
  /** Sense of the last motion along each axis. */
  approachX: approach,
  approachY: approach,
  /** Line of the program's text, from 1. */
  line: z.number().int().positive(),
});

const holeSchema = z.object({
  centre: place,
  steps: z.array(
    z.object({
      /** Of the tool's centre, mm; 0 straight down. */
      pathDiameter: z.number().nonnegative(),
      /** Depth below the board's surface, mm. */
      depth: z.number().positive(),
    }),
  ),
});

export const planSchema = z.object({
  schema: z.literal(PLAN_SCHEMA_ID),
  tool: z.object({ name: z.string(), version: z.string() }),
  /** One grid, or one of the pair for a board that is turned between them. */
  placement: z.enum(['only', 'first', 'second', 'fresh']),
  /** All files that were written together, this one included. */
  files: z.array(z.string()),
  program: z.object({
    file: z.string(),
    /** Of the text in UTF-8, hexadecimal. */
    sha256: z.string(),
    units: z.enum(['mm', 'in']),
    form: z.enum(['flat', 'parametric']),
    marking: z.enum(['laser', 'cutter']),
  }),
  /** Commanded coordinates of the ends of the travel, mm. */
  travel: z.object({ x: place, y: place }),
  /** mm. */
  spacing: z.number().positive(),
  linesAtX: z.array(finite),
  linesAtY: z.array(finite),
  /** Distance of the rungs, mm. */
  ladder: z.object({ x: z.number().positive(), y: z.number().positive() }),
  /** In order of marking. */
  strokes: z.array(strokeSchema),
  /** In order of cutting. */
  holes: z.array(holeSchema),
});

export type PlanRecord = z.infer<typeof planSchema>;
