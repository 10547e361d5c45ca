/** What `measure --photos-only --json` prints: the photos' verdicts and what the set lacks. */

import { z } from 'zod';
import { findingSchema, photoSchema } from './measurement.js';

export const PHOTO_CHECK_SCHEMA_ID = 'gantrue/photo-check/1';

export const photoSetSchema = z.object({
  /** 'not enough': squareness, scales' ratio or straightness would be weak. */
  state: z.enum(['good', 'usable', 'not enough']),
  /** How many can be used, and at which quarter turns of the phone, where that can be told. */
  usable: z.number().int(),
  /** Number of usable photos at 0°, 90°, 180° and 270° against each other; absent where it cannot be told. */
  quarterTurns: z
    .tuple([z.number().int(), z.number().int(), z.number().int(), z.number().int()])
    .optional(),
  advice: z.array(
    z.object({
      about: z.enum([
        'number',
        'photos',
        'one way round',
        'way round',
        'turns',
        'tilt',
        'lens',
        'cameras',
        'coverage',
      ]),
      /** True: without it the set is not enough. */
      needed: z.boolean(),
      text: z.string(),
    }),
  ),
});

export const photoCheckSchema = z.object({
  schema: z.literal(PHOTO_CHECK_SCHEMA_ID),
  tool: z.object({ name: z.string(), version: z.string() }),
  /** ISO 8601. */
  checkedAt: z.string(),
  program: z.string(),
  /** As in a measurement; counts of segments are those of the sample that was looked at. */
  photos: z.array(photoSchema),
  set: photoSetSchema,
  findings: z.array(findingSchema),
});

export type PhotoCheck = z.infer<typeof photoCheckSchema>;
export type PhotoSet = z.infer<typeof photoSetSchema>;
export type PhotoSetAdvice = PhotoSet['advice'][number];
