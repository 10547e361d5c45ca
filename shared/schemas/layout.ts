/** The layout file: where the features of a fixture ought to be, in machine coordinates, and how closely. */

import { z } from 'zod';

const length = z.number().positive();
const point = z.tuple([z.number(), z.number()]);

/**
 * How closely features are made, as the standard deviation of each coordinate, mm, where the layout does not say.
 * Common practice, no source: a reamed hole or a ground dowel keeps some hundredths, a threaded insert or a corner
 * wanders by a tenth or two.
 */
export const DEFAULT_SCATTER_MM = {
  hole: 0.02,
  pin: 0.02,
  dowel: 0.02,
  insert: 0.15,
  edge: 0.02,
  corner: 0.1,
} as const;

/** Of a raised feature whose height is not stated: none, give or take this much (a dowel stands up 5 to 20 mm); mm. */
export const UNKNOWN_HEIGHT_U_MM = 12;

const commonShape = {
  /** Of the visible rim over the board, mm; 0 for holes in the board itself. */
  height: z.number().optional(),
  /** Standard uncertainty of that height. */
  heightU: z.number().nonnegative().optional(),
  /** Diameter of the tolerance zone of its position; width of the zone for an edge. */
  tolerance: length.optional(),
  /** Standard deviation with which it was made in its place. */
  scatter: length.optional(),
  /**
   * round: locates along both axes; slotted: keeps from turning; clamp: only holds, and is taken to lie as loosely
   * as a threaded insert.
   */
  role: z.enum(['round', 'slotted', 'clamp']).optional(),
};

const roundShape = {
  name: z.string().min(1),
  x: z.number(),
  y: z.number(),
  /** Absent only where no photo is to be looked at. */
  diameter: length.optional(),
  /** A wider rim over a hole. */
  counterbore: z
    .strictObject({
      diameter: length,
      /** Of its floor, in which the hole begins, below the rim. */
      depth: z.number().nonnegative().optional(),
    })
    .optional(),
  ...commonShape,
};

export const layoutFeatureSchema = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('hole'), ...roundShape }),
  z.strictObject({ kind: z.literal('pin'), ...roundShape }),
  z.strictObject({ kind: z.literal('dowel'), ...roundShape }),
  z.strictObject({ kind: z.literal('insert'), ...roundShape }),
  z.strictObject({
    kind: z.literal('edge'),
    name: z.string().min(1),
    from: point,
    to: point,
    ...commonShape,
  }),
  z.strictObject({
    kind: z.literal('corner'),
    name: z.string().min(1),
    x: z.number(),
    y: z.number(),
    /** Direction of its first edge away from the corner, degrees anticlockwise from +X. */
    angle: z.number().optional(),
    /** From the first edge to the second, degrees anticlockwise. */
    opening: z.number().optional(),
    /** How much of each edge is looked at. */
    arm: length.optional(),
    ...commonShape,
  }),
]);

export const layoutSchema = z.strictObject({
  name: z.string().optional(),
  units: z.enum(['mm', 'in']).optional(),
  /** Play of a dowel in its hole, on the diameter. */
  clearance: z.number().nonnegative().optional(),
  /** Of features that state none of their own. */
  tolerance: length.optional(),
  scatter: length.optional(),
  /** How far from its place a feature is looked for. */
  search: length.optional(),
  features: z.array(layoutFeatureSchema).optional(),
  /** The holes of a program: of the one named, relative to this file, or of the one that marked the grid. */
  holes: z
    .strictObject({
      program: z.string().min(1).optional(),
      kind: z.enum(['hole', 'insert']).optional(),
      diameter: length.optional(),
      counterbore: roundShape.counterbore,
      ...commonShape,
    })
    .optional(),
});

export type LayoutFile = z.infer<typeof layoutSchema>;
export type LayoutFileFeature = z.infer<typeof layoutFeatureSchema>;
