/** Figures of a photo → one state and what would make it better. */

import {
  PHOTO_STATES,
  type PhotoAdvice,
  type PhotoState,
  type PhotoVerdict,
  type PicturePlace,
} from '../../shared/schemas/photo-verdict.js';
import type { MeasuredFamily, MissingMarks } from '../marks/index.js';
import type { Failure } from '../quantity/index.js';
import {
  depthLimits,
  edgeLimitsPx,
  gradeClipped,
  gradeDepth,
  gradeEdge,
  gradeScale,
  gradeShare,
  gradeTilt,
} from './photo-limits.js';
import type { PhotoSight } from './sight-photo.js';

/** As far as it got. */
export interface PhotoFigures {
  readonly sight?: PhotoSight;
  readonly families?: readonly MeasuredFamily[];
  readonly strokes?: { readonly found: number; readonly of: number };
  /** Of a board that was turned between two programs: tilt does no harm. */
  readonly isTurned?: boolean;
  /** Why it was not used. */
  readonly failure?: Failure;
}

/** Missing marks of one kind below this share are not worth a word. */
const WORTH_A_WORD = 0.03;
/** Glare on a hundredth of the board shows where a lamp is mirrored. */
const GLARE_SHARE = 0.01;
/** With more of the area clipped it is the exposure, not a lamp. */
const OVEREXPOSED_SHARE = 0.5;
/** Of a whole picture, where the board's share is not known. */
const OVEREXPOSED_PICTURE = 0.25;
/** sRGB value of the 18 % grey that exposure meters aim at, and the least of a picture that had light. */
const METERED_GREY = 118;
const DARK_PICTURE_GREY = 20;
/** Edges of the two families that differ by more than this were smeared along one direction. */
const SMEARED_RATIO = 1.5;
/** No lens and no sharpening shows a narrower edge; a mark with a flat bottom is wider than two edges. */
const SHARPEST_EDGE_PX = 2;
const FLAT_WIDTHS = 2;
/** Less of the picture than this leaves room to go closer. */
const FILLED_SHARE = 0.7;

export function judgePhoto(figures: PhotoFigures): PhotoVerdict {
  const { sight, families, strokes, failure } = figures;
  const advice = failure === undefined ? adviseOnUsed(figures) : adviseOnFailed(failure, sight);
  const worst = Math.max(0, ...advice.map(({ state }) => PHOTO_STATES.indexOf(state)));
  return {
    state: failure === undefined ? PHOTO_STATES[worst] : 'unusable',
    advice: advice.sort((a, b) => PHOTO_STATES.indexOf(b.state) - PHOTO_STATES.indexOf(a.state)),
    ...(sight === undefined ? {} : figuresOf(sight)),
    ...(families === undefined
      ? {}
      : {
          marks: families.map(({ axis, contrast, widthPx, edgePx }) => ({
            axis,
            contrast,
            widthPx,
            edgePx,
          })),
        }),
    ...(strokes === undefined ? {} : { strokes }),
  };
}

function figuresOf({ exposure, coverage, missing, view }: PhotoSight): Partial<PhotoVerdict> {
  return {
    exposure,
    ...(coverage === undefined ? {} : { coverage: { ...coverage, cut: [...coverage.cut] } }),
    ...(missing === undefined
      ? {}
      : { missing: missing.map((one) => ({ ...one, where: [...one.where] })) }),
    ...(view === undefined ? {} : { view: { tiltRad: view.tiltRad, rollRad: view.rollRad } }),
  };
}

function adviseOnFailed(failure: Failure, sight: PhotoSight | undefined): PhotoAdvice[] {
  const say = (about: PhotoAdvice['about'], text: string): PhotoAdvice => ({
    about,
    state: 'unusable',
    text,
  });
  const own = `${failure.message}${failure.hint === undefined ? '' : `: ${failure.hint}`}`;
  if (sight === undefined) return [say('file', own)];
  if (failure.code === 'PHOTO_BLURRED') return [say('sharpness', own)];
  const { exposure, coverage } = sight;
  const list = [say('grid', own)];
  const isBright =
    exposure.clippedBright > (exposure.area === 'grid' ? OVEREXPOSED_SHARE : OVEREXPOSED_PICTURE);
  if (isBright) list.unshift(say('exposure', overexposed(exposure.clippedBright)));
  if (exposure.medianGrey < DARK_PICTURE_GREY) {
    list.unshift(say('light', 'the picture is nearly black: more light, or a longer exposure'));
  }
  if (coverage !== undefined && coverage.cut.length > 0) list.push(...adviseOnCut(coverage));
  return list;
}

function adviseOnUsed({ sight, families, isTurned }: PhotoFigures): PhotoAdvice[] {
  if (sight === undefined) return [];
  return [
    ...adviseOnSharpness(sight, families ?? []),
    ...adviseOnContrast(sight, families ?? []),
    ...adviseOnLight(sight),
    ...adviseOnCut(sight.coverage),
    ...adviseOnSize(sight),
    ...(isTurned === true ? [] : adviseOnTilt(sight)),
  ];
}

function adviseOnSharpness(
  { coverage }: PhotoSight,
  families: readonly MeasuredFamily[],
): PhotoAdvice[] {
  if (coverage === undefined || families.length === 0) return [];
  const edges = families.map(({ edgePx }) => edgePx);
  const widest = Math.max(...edges);
  const state = gradeEdge(widest, coverage.mmPerPx);
  if (state === 'good') return [];
  const limit = edgeLimitsPx(coverage.mmPerPx).good.toFixed(1);
  const smeared = widest > SMEARED_RATIO * Math.min(...edges);
  return [
    {
      about: 'sharpness',
      state,
      text: smeared
        ? `blurred in one direction, edges ${widest.toFixed(1)} px wide (good up to ${limit}): the phone moved; put it on a stand or an arm, use the self-timer, more light`
        : `too blurred, edges ${widest.toFixed(1)} px wide (good up to ${limit}): brace the phone or put it on a stand, use the self-timer, tap the board to focus, clean the lens, more light`,
    },
  ];
}

function adviseOnContrast(
  { exposure, coverage }: PhotoSight,
  families: readonly MeasuredFamily[],
): PhotoAdvice[] {
  if (coverage === undefined || families.length === 0) return [];
  const { mmPerPx } = coverage;
  const faintest = families.reduce((a, b) => (b.contrast < a.contrast ? b : a));
  const { contrast, edgePx, widthPx } = faintest;
  const state = gradeDepth(contrast * exposure.medianGrey, mmPerPx);
  if (state === 'good' || exposure.clippedBright > OVEREXPOSED_SHARE) return [];
  const limit = depthLimits(mmPerPx).good;
  if (exposure.medianGrey < METERED_GREY && contrast * METERED_GREY >= limit) {
    return [
      {
        about: 'light',
        state,
        text: `too dark, the board's median grey is ${exposure.medianGrey} of 255: more light, or a longer exposure from a stand`,
      },
    ];
  }
  const depth = `marks too faint, ${percent(contrast)} of the background (good from ${percent(limit / Math.max(exposure.medianGrey, METERED_GREY))})`;
  if (gradeEdge(edgePx, mmPerPx) !== 'good') {
    return [{ about: 'contrast', state, text: `${depth}, because they are blurred` }];
  }
  if (gradeScale(mmPerPx) !== 'good') {
    return [
      {
        about: 'contrast',
        state,
        text: `marks too faint, ${percent(contrast)} of the background: they are hardly wider than a pixel`,
      },
    ];
  }
  const mayBeSoft = edgePx > SHARPEST_EDGE_PX && widthPx < FLAT_WIDTHS * edgePx;
  return [
    {
      about: 'contrast',
      state,
      text: `${depth}: ${mayBeSoft ? 'where they look soft, focus and brace the phone; where they look sharp, ' : ''}rub chalk or pencil into them and wipe the board flat, or mark darker`,
    },
  ];
}

function adviseOnLight({ exposure, glare, missing = [] }: PhotoSight): PhotoAdvice[] {
  const lost = missing.reduce((sum, one) => sum + one.share, 0);
  const state = gradeShare(Math.max(0, 1 - lost));
  const { clippedBright, clippedDark } = exposure;
  if (clippedBright > OVEREXPOSED_SHARE) {
    const worse = state === 'good' ? gradeClipped(clippedBright) : state;
    return [{ about: 'exposure', state: worse, text: overexposed(clippedBright, lost) }];
  }
  const largest = Math.max(0, ...missing.map(({ share }) => share));
  // Many small kinds are told by the largest of them.
  const told = missing.filter(
    ({ share }) => share >= WORTH_A_WORD || (lost >= WORTH_A_WORD && share === largest),
  );
  const advice = told.map((one) => adviseOnMissing(one, state));
  if (clippedBright > GLARE_SHARE && !told.some(({ light }) => light === 'bright')) {
    advice.push({
      about: 'exposure',
      state: gradeClipped(clippedBright),
      text: `glare${at(glare)}, ${percent(clippedBright)} of the board is white: ${GLARE_HELP}`,
    });
  }
  if (gradeClipped(clippedDark) !== 'good' && !told.some(({ light }) => light === 'dark')) {
    advice.push({
      about: 'exposure',
      state: gradeClipped(clippedDark),
      text: `${percent(clippedDark)} of the board is black: light it evenly from afar`,
    });
  }
  return advice;
}

const GLARE_HELP = 'turn off, move or shade the lamp that is mirrored there';

function adviseOnMissing({ light, share, where }: MissingMarks, state: PhotoState): PhotoAdvice {
  const lost = `${percent(share)} of the marks`;
  if (light === 'bright') {
    return {
      about: 'exposure',
      state,
      text: `glare${at(where)}, ${lost} are lost in it: ${GLARE_HELP}`,
    };
  }
  if (light === 'dark') {
    return {
      about: 'light',
      state,
      text: `${lost} are lost in the dark${at(where)}: light the board evenly from afar, take away what casts the shadow or lies there`,
    };
  }
  return {
    about: 'cover',
    state,
    text: `${lost} were not found${at(where)}, where the picture is neither white nor black: clear the board there, keep reflections off, chalk or mark again what is worn`,
  };
}

function adviseOnCut(coverage: PhotoSight['coverage']): PhotoAdvice[] {
  if (coverage === undefined || coverage.cut.length === 0) return [];
  const { cut, inPicture } = coverage;
  return [
    {
      about: 'coverage',
      state: gradeShare(inPicture),
      text: `the grid is cut at the ${listed(cut)}, ${percent(1 - inPicture)} of it is outside: go higher or aim anew, so that the whole grid shows`,
    },
  ];
}

function adviseOnSize({ coverage }: PhotoSight): PhotoAdvice[] {
  if (coverage === undefined) return [];
  const { mmPerPx, width, height } = coverage;
  const state = gradeScale(mmPerPx);
  if (state === 'good') return [];
  const filled = Math.max(width, height);
  return [
    {
      about: 'size',
      state,
      text:
        filled < FILLED_SHARE
          ? `the grid is too small in the picture, ${percent(filled)} of it and ${mmPerPx.toFixed(2)} mm per pixel: go closer`
          : `too few pixels, ${mmPerPx.toFixed(2)} mm each: give the original file at full size, from the main lens`,
    },
  ];
}

function adviseOnTilt({ view }: PhotoSight): PhotoAdvice[] {
  if (view === undefined) return [];
  const state = gradeTilt(view.tiltRad);
  if (state === 'good') return [];
  const degrees = ((view.tiltRad * 180) / Math.PI).toFixed(0);
  return [
    {
      about: 'tilt',
      state,
      text: `too oblique, tilted by about ${degrees}°: hold the phone square-on above the middle of the board, within 1 to 2°`,
    },
  ];
}

function overexposed(share: number, lost = 0): string {
  const marks = lost >= WORTH_A_WORD ? ` and ${percent(lost)} of the marks are lost` : '';
  return `overexposed, ${percent(share)} is white${marks}: lower the exposure (on most phones: tap the board, then drag down)`;
}

function at(places: readonly PicturePlace[]): string {
  return places.length === 0 ? ' in many places' : ` at the ${listed(places)}`;
}

function listed(words: readonly string[]): string {
  return words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;
}

function percent(share: number): string {
  return share > 0 && share < 0.005 ? 'under 1 %' : `${Math.round(100 * share)} %`;
}
