/** What is said of one photo before anything is solved: figures, a state, advice. */

import { z } from 'zod';

const share = z.number().min(0).max(1);
const length = z.number().nonnegative();

/** Best first. */
export const PHOTO_STATES = ['good', 'usable', 'poor', 'unusable'] as const;

const stateSchema = z.enum(PHOTO_STATES);

const placeSchema = z.enum([
  'top left',
  'top',
  'top right',
  'left',
  'middle',
  'right',
  'bottom left',
  'bottom',
  'bottom right',
]);

export const photoVerdictSchema = z.object({
  /** The worst that one of its figures is. */
  state: stateSchema,
  advice: z.array(
    z.object({
      about: z.enum([
        'file',
        'grid',
        'sharpness',
        'exposure',
        'light',
        'cover',
        'contrast',
        'coverage',
        'size',
        'tilt',
      ]),
      /** What this figure alone would make of the photo; good: worth knowing, no more. */
      state: stateSchema,
      text: z.string(),
    }),
  ),
  /** Of the board between the grid's lines; of the whole picture where no grid was found. */
  exposure: z
    .object({
      area: z.enum(['grid', 'picture']),
      /** Shares of the area that are next to black and next to white. */
      clippedDark: share,
      clippedBright: share,
      /** 0 to 255, as stored. */
      medianGrey: z.number().min(0).max(255),
    })
    .optional(),
  coverage: z
    .object({
      /** Share of the grid's area that lies inside the picture. */
      inPicture: share,
      /** Share of the picture's width and height, as people see it, that the grid takes. */
      width: share,
      height: share,
      /** Sides of the picture, as people see it, beyond which some of the grid lies. */
      cut: z.array(z.enum(['left', 'right', 'top', 'bottom'])),
      /** Of the part that is seen, its mean. */
      mmPerPx: length,
    })
    .optional(),
  /** Per family of lines: those at constant X, those at constant Y. */
  marks: z
    .array(
      z.object({
        axis: z.enum(['x', 'y']),
        /** Largest departure from the background, share of its grey. */
        contrast: length,
        /** Full width at half depth, px. */
        widthPx: length,
        /** 10 % to 90 % of the edge, px. */
        edgePx: length,
      }),
    )
    .optional(),
  /** Strokes of the grid of which something was measured. */
  strokes: z.object({ found: z.number().int(), of: z.number().int() }).optional(),
  /** Marks that lie in the picture and could not be measured, by the light on their place. */
  missing: z
    .array(
      z.object({
        light: z.enum(['bright', 'dark', 'normal']),
        /** Share of the stretches of marks that were looked for. */
        share,
        /** As people see the picture, thirds of the grid each way; most of them first. */
        where: z.array(placeSchema),
      }),
    )
    .optional(),
  /** As a plain camera would see it that has its centre in the middle: before the adjustment. */
  view: z.object({ tiltRad: z.number(), rollRad: z.number() }).optional(),
});

export type PhotoVerdict = z.infer<typeof photoVerdictSchema>;
export type PhotoState = PhotoVerdict['state'];
export type PhotoAdvice = PhotoVerdict['advice'][number];
export type PicturePlace = z.infer<typeof placeSchema>;
export type PictureSide = NonNullable<PhotoVerdict['coverage']>['cut'][number];
