/** The evidence file: what was known besides the photos. */

import { z } from 'zod';
import { MATERIALS } from '../thermal-expansion.js';

const point = z.tuple([z.number(), z.number()]);

const lengthSchema = z.strictObject({
  /** Commanded crossings between whose marks was taped. */
  from: point,
  to: point,
  length: z.number().positive(),
  /** Standard uncertainty; given, it stands alone, apart from the tape's class and reading. */
  u: z.number().positive().optional(),
});

/** °C. A workshop is not hotter: more is a figure in °F. */
const temperature = z.number().min(-50).max(50);

const conditionSchema = {
  /** °C. */
  temperature: temperature.optional(),
  humidity: z.number().min(0).max(100).optional(),
};

/** EU accuracy classes of material measures of length (Directive 2014/32/EU, annex X, MI-008). */
export const TAPE_CLASSES = ['I', 'II', 'III'] as const;

/**
 * DIN 866 forms of steel rules, or the class of a material measure as above. Without one, and without a stated
 * uncertainty, a rule is taken for the poorest.
 */
export const RULE_CLASSES = ['A', 'B', ...TAPE_CLASSES] as const;

/** What a length was read on: its own temperature (°C), where it is not the board's, and its material. */
const standardSchema = {
  temperature: temperature.optional(),
  material: z.enum(MATERIALS).optional(),
};

const ruleSchema = z.strictObject({
  /** File name of the photo. */
  photo: z.string(),
  /** Column and row of two graduations: pixels of the upright picture from its top left corner. */
  from: point,
  to: point,
  length: z.number().positive(),
  /** Of the graduations over the board: the rule's thickness. */
  height: z.number().optional(),
  class: z.enum(RULE_CLASSES).optional(),
  /** Standard uncertainty of the length between the graduations; given, the class does not count. */
  u: z.number().positive().optional(),
  /** Standard uncertainty of each pixel coordinate, px. */
  sigma: z.number().positive().optional(),
  ...standardSchema,
});

export const evidenceSchema = z.strictObject({
  units: z.enum(['mm', 'in']).optional(),
  taken: z.string().optional(),
  ...conditionSchema,
  marked: z.strictObject({ date: z.string().optional(), ...conditionSchema }).optional(),
  tape: z
    .strictObject({
      class: z.enum(TAPE_CLASSES).optional(),
      reading: z.number().positive().optional(),
      ...standardSchema,
    })
    .optional(),
  lengths: z.array(lengthSchema).optional(),
  rules: z.array(ruleSchema).optional(),
  /** What measured the nodes of a points file. */
  points: z.strictObject(standardSchema).optional(),
  squareCheck: z
    .strictObject({
      along: z.enum(['x', 'y']),
      run: z.number().positive(),
      deviation: z.number(),
      u: z.number().positive(),
    })
    .optional(),
  notes: z.string().optional(),
});

export type EvidenceFile = z.infer<typeof evidenceSchema>;
