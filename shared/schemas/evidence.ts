/** The evidence file: what was known besides the photos. */

import { z } from 'zod';

const point = z.tuple([z.number(), z.number()]);

const lengthSchema = z.strictObject({
  /** Commanded crossings between whose marks was taped. */
  from: point,
  to: point,
  length: z.number().positive(),
  /** Standard uncertainty; given, it stands alone, apart from the tape's class and reading. */
  u: z.number().positive().optional(),
});

const conditionSchema = {
  temperature: z.number().min(-50).max(80).optional(),
  humidity: z.number().min(0).max(100).optional(),
};

/** EU accuracy classes of material measures of length (Directive 2014/32/EU, annex X, MI-008). */
export const TAPE_CLASSES = ['I', 'II', 'III'] as const;

export const evidenceSchema = z.strictObject({
  units: z.enum(['mm', 'in']).optional(),
  taken: z.string().optional(),
  ...conditionSchema,
  marked: z.strictObject({ date: z.string().optional(), ...conditionSchema }).optional(),
  tape: z
    .strictObject({
      class: z.enum(TAPE_CLASSES).optional(),
      reading: z.number().positive().optional(),
    })
    .optional(),
  lengths: z.array(lengthSchema).optional(),
  rules: z
    .array(
      z.strictObject({
        photo: z.string(),
        from: point,
        to: point,
        length: z.number().positive(),
        height: z.number().optional(),
        u: z.number().positive().optional(),
      }),
    )
    .optional(),
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
