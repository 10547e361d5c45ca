/** The sub-pixel measurement: how far every segment of the grid lies from its prediction, across it. */

import { drawEvenly, median, robustSigma } from '../numerics/index.js';
import type { BoardSegment } from '../program/index.js';
import { type GreyImage, type Outcome, success } from '../quantity/index.js';
import { notFound } from './explain-absence.js';
import { fitImageMap } from './fit-image-map.js';
import type { ImageMap } from './image-map.js';
import { bendsOfLines, meanBeyondMiddle } from './line-bends.js';
import {
  type AcrossOffset,
  placeSegments,
  positionOf,
  type SegmentPlace,
} from './place-segments.js';
import {
  type RegisteredFamily,
  type RegisteredSegment,
  registerFamily,
} from './register-family.js';
import { findRoughOffsets } from './rough-offsets.js';
import { fitOffsetSurface, type OffsetSample, type OffsetSurface } from './smooth-offsets.js';

export interface SegmentObservation {
  /** BoardSegment.id. */
  readonly segmentId: number;
  /** Commanded middle of the segment; mm. */
  readonly xMm: number;
  readonly yMm: number;
  /** Where the middle of the mark is seen there; px, sensor frame. */
  readonly uPx: number;
  readonly vPx: number;
  /** Unit normal of the mark, towards the rising commanded coordinate across it. */
  readonly normalU: number;
  readonly normalV: number;
  /** Standard uncertainty across the mark; px. */
  readonly sigmaPx: number;
}

export interface MeasuredFamily {
  /** 'x': lines at constant X. */
  readonly axis: 'x' | 'y';
  readonly polarity: 'dark' | 'bright' | 'mixed';
  /** Full width at half depth of the averaged mark; px. */
  readonly widthPx: number;
  /** Largest deviation from the background, share of its grey. */
  readonly contrast: number;
  /** 10 to 90 % of the averaged mark's edge; px. */
  readonly edgePx: number;
}

export interface MeasuredMarks {
  readonly observations: readonly SegmentObservation[];
  /** Refined by what was measured; for predictions and pictures, not for results. */
  readonly map: ImageMap;
  /** Lines at constant X, then those at constant Y. */
  readonly families: readonly MeasuredFamily[];
  /** Segments that lie inside the picture with their surroundings. */
  readonly predicted: number;
  readonly rejected: {
    /** No mark to be seen, or too little of it. */
    readonly covered: number;
    /** Something is there that looks otherwise than the family's marks. */
    readonly unlike: number;
    /** A mark well off its neighbours along the same line. */
    readonly outlying: number;
  };
  /** Robust scatter across the marks, what is common to a line half and what is smooth taken away; px. */
  readonly scatterPx: number;
}

/** Edges of a usable photo are two or three px wide. */
const BLURRED_EDGE_PX = 12;
/** Fewer segments than this per family tell nothing. */
const FEWEST_MEASURED = 6;
/** Below this share of the segments in the picture the marks were mistaken for something else. */
const LEAST_SHARE = 0.15;
/** A mark this many scatters off its line is a stain's edge; never closer than the second; px. */
const OUTLYING = 6;
const LEAST_OUTLYING_PX = 0.5;
/** Floor of an uncertainty against the family's usual one: formal ones can be too good by chance. */
const LEAST_OF_USUAL = 0.5;
/** Scatter along the lines, against plain least squares, above which weighing by the background is refused. */
const WORSE_WEIGHED = 1.02;
/** Segments of a family from which the map is corrected: it has some ten numbers. */
const MOST_FIRST = 120;
/** Surface and line halves in turn; the third changes nothing that shows. */
const SURFACE_ROUNDS = 2;
/** Nothing in a photo is known better than this; px. */
const LEAST_SIGMA_PX = 0.005;

/**
 * Measures every segment of the grid in one photo. Both approaches of a family share one profile, so
 * that their difference does not see its shape.
 *
 * Weak: the uncertainties hold the marks' own wander on the board too, since one photo cannot tell it
 * from its pixels' noise. Raking light falls on the walls of grooves under another angle at the
 * board's far end, and grooves move with it: with a lamp three board diagonals away, 0.02 px (0.005 to
 * 0.007 mm) over half a board of 0.7 m were seen in simulated photos.
 *
 * @param grey the photo, sensor frame.
 * @param segments of both families.
 * @param start commanded mm → px, good to a few px.
 * Fails: GRID_NOT_FOUND; PHOTO_BLURRED.
 */
export function measureSegments(
  grey: GreyImage,
  segments: readonly BoardSegment[],
  start: ImageMap,
): Outcome<MeasuredMarks> {
  const lines = (['x', 'y'] as const).map((axis) => ({
    axis,
    own: segments.filter((segment) => segment.axis === axis),
    crossingsMm: [...new Set(segments.filter((s) => s.axis !== axis && !s.isRung).map(positionOf))],
  }));
  // Both families together: what one sees across, the other needs along, to keep off the crossings.
  const { map, halfMarkPx } = correctMap(grey, lines, start);
  const families: Family[] = [];
  for (const [i, family] of lines.entries()) {
    const measured = measureFamily(grey, family, map, halfMarkPx[i]);
    if (typeof measured === 'string') {
      return notFound(grey, `lines at constant ${family.axis.toUpperCase()}: ${measured}`, 1);
    }
    families.push(measured);
  }
  const widest = Math.max(...families.map(({ registered }) => registered.shape.edgePx));
  if (widest > BLURRED_EDGE_PX) {
    // A soft groove has wide edges too: only where nothing else in the picture is sharp is it the lens.
    const absent = notFound(grey, 'its marks have no edges', 1);
    if (absent.failure.code === 'PHOTO_BLURRED') return absent;
  }
  const good = families.flatMap((family) => family.good);
  const observations = good.map(({ observation }) => observation);
  return success({
    observations,
    map: refineMap(map, good),
    families: families.map(({ registered }, i) => ({
      axis: i === 0 ? 'x' : 'y',
      polarity: registered.shape.polarity,
      widthPx: registered.shape.widthPx,
      contrast: registered.contrast,
      edgePx: registered.shape.edgePx,
    })),
    predicted: families.reduce((sum, family) => sum + family.predicted, 0),
    rejected: {
      covered: families.reduce((sum, family) => sum + family.covered, 0),
      unlike: families.reduce((sum, family) => sum + family.registered.unlike, 0),
      outlying: families.reduce((sum, family) => sum + family.outlying, 0),
    },
    scatterPx: median(families.map((family) => family.scatterPx)),
  });
}

interface Measured {
  readonly segment: BoardSegment;
  readonly observation: SegmentObservation;
}

interface Family {
  readonly registered: RegisteredFamily;
  readonly good: readonly Measured[];
  readonly predicted: number;
  readonly covered: number;
  readonly outlying: number;
  readonly scatterPx: number;
}

interface FamilyOfLines {
  readonly own: readonly BoardSegment[];
  /** Commanded positions of the other family's lines. */
  readonly crossingsMm: readonly number[];
}

/** The start map moved onto what a first look at some of the segments sees; the start itself where that is too little. */
function correctMap(
  grey: GreyImage,
  lines: readonly FamilyOfLines[],
  start: ImageMap,
): { map: ImageMap; halfMarkPx: (number | undefined)[] } {
  const rough = lines.map(({ own, crossingsMm }) =>
    findRoughOffsets(grey, placeSegments(start, drawEvenly(own, MOST_FIRST), crossingsMm)),
  );
  const sightings = rough.flatMap(({ offsets }, i) =>
    offsets.map(({ place, offsetPx }) => ({
      ...sightingAt(place, offsetPx),
      family: i === 0 ? (0 as const) : (1 as const),
    })),
  );
  return {
    map: fitImageMap(start, sightings) ?? start,
    halfMarkPx: rough.map(({ halfMarkPx }) => (halfMarkPx > 0 ? halfMarkPx : undefined)),
  };
}

function measureFamily(
  grey: GreyImage,
  { own, crossingsMm }: FamilyOfLines,
  map: ImageMap,
  halfMarkPx: number | undefined,
): Family | string {
  const rough = findRoughOffsets(grey, placeSegments(map, own, crossingsMm), halfMarkPx);
  if (rough.offsets.length < Math.max(FEWEST_MEASURED, LEAST_SHARE * rough.seen)) {
    return `${rough.offsets.length} of ${rough.seen} segments show a mark`;
  }
  const samples = rough.offsets.map(({ place: { segment, xMm, yMm }, offsetPx }) => ({
    segment,
    xMm,
    yMm,
    offsetPx,
  }));
  const surface = fitOffsetSurface(samples);
  if (surface === undefined) return 'too few segments show a mark';
  const { predicted } = surface;
  const starts = new Map(
    samples.map((s) => [s.segment.id, s.offsetPx - predicted(s.segment, s.xMm, s.yMm)]),
  );
  const places = placeSegments(map, own, crossingsMm, predicted);
  const registered = registerFamily(grey, places, starts, rough.halfMarkPx);
  if (registered === undefined) return 'the segments show no common mark';
  return judgeFamily(registered, predicted);
}

/** Strays out, uncertainties scaled by the scatter along the lines. */
function judgeFamily(registered: RegisteredFamily, offset: AcrossOffset): Family | string {
  const plain = registered.segments.map(
    (item): FamilySample => ({
      item,
      segment: item.place.segment,
      xMm: item.place.xMm,
      yMm: item.place.yMm,
      offsetPx: item.offsetPx + offset(item.place.segment, item.place.xMm, item.place.yMm),
    }),
  );
  const found = [plain, plain.map((s) => ({ ...s, offsetPx: s.offsetPx + s.item.stepPx }))].flatMap(
    (samples) => {
      const departures = departuresAlongLines(samples);
      if (departures === undefined) return [];
      const scatterPx = scatterOf(samples, departures.residuals);
      return [{ samples, ...departures, scatterPx }];
    },
  );
  if (found.length < 2 || plain.length < FEWEST_MEASURED) return 'too few segments are clear';
  // Marks rougher than the board beside them are better off with plain least squares.
  const { samples, residuals, surface } =
    found[found[1].scatterPx <= WORSE_WEIGHED * found[0].scatterPx ? 1 : 0];
  const scatterPx = robustSigma(residuals);
  const limit = Math.max(LEAST_OUTLYING_PX, OUTLYING * scatterPx);
  const kept = samples.filter((_, i) => Math.abs(residuals[i]) <= limit);
  const bendOf = bendsOfLines(kept, surface);
  const usual = median(kept.map(({ item }) => item.formalPx));
  const factor = Math.max(
    1,
    scatterOf(samples, residuals, ({ item }) => item.formalPx),
  );
  const predicted = registered.segments.length + registered.covered + registered.unlike;
  if (kept.length < Math.max(FEWEST_MEASURED, LEAST_SHARE * predicted)) {
    return `${kept.length} of ${predicted} segments show a mark`;
  }
  return {
    registered,
    good: kept.map(({ item, offsetPx, segment, xMm, yMm }) => ({
      segment,
      observation: observe(
        item.place,
        offsetPx - offset(segment, xMm, yMm) - bendOf(segment) + meanBeyondMiddle(segment, offset),
        Math.max(LEAST_SIGMA_PX, factor * Math.max(item.formalPx, LEAST_OF_USUAL * usual)),
      ),
    })),
    predicted,
    covered: registered.covered,
    outlying: samples.length - kept.length,
    scatterPx,
  };
}

interface FamilySample extends OffsetSample {
  readonly item: RegisteredSegment;
}

/**
 * Residuals to the surface with each line half's own median taken away, which is the machine's. The surface
 * is fitted anew without those medians: through few lines it would follow them, and bend along each.
 */
function departuresAlongLines(
  samples: readonly OffsetSample[],
): { residuals: number[]; surface: OffsetSurface } | undefined {
  const halves = new Map<string, number[]>();
  samples.forEach(({ segment }, i) => {
    const key = `${segment.lineIndex} ${segment.approach}`;
    halves.set(key, [...(halves.get(key) ?? []), i]);
  });
  const own = new Float64Array(samples.length);
  let residuals: number[] = [];
  let surface: OffsetSurface | undefined;
  for (let round = 0; round < SURFACE_ROUNDS; round++) {
    const fitted = fitOffsetSurface(
      samples.map((s, i) => ({ ...s, offsetPx: s.offsetPx - own[i] })),
    );
    if (fitted === undefined) return undefined;
    surface = fitted;
    residuals = samples.map((s) => s.offsetPx - fitted.predicted(s.segment, s.xMm, s.yMm));
    for (const half of halves.values()) {
      // Of one or two segments the median says nothing about their own departure.
      if (half.length < 3) continue;
      const middle = median(half.map((i) => residuals[i]));
      for (const i of half) own[i] = middle;
    }
  }
  if (surface === undefined) return undefined;
  const departures = samples.map(({ segment }, i) => {
    const n = halves.get(`${segment.lineIndex} ${segment.approach}`)?.length ?? 0;
    return n < 3 ? residuals[i] : (residuals[i] - own[i]) * Math.sqrt(n / (n - 1));
  });
  return { residuals: departures, surface };
}

/** Neighbours along a line half: a bend of the line leaves something in the first, nothing in the second. */
const DIFFERENCES = [
  [1, -2, 1],
  [1, -3, 3, -1],
];

/**
 * Robust scatter of the departures over the uncertainty that they should have, from differences of
 * neighbours: what is smooth along the line, of the machine, the lens or the surface, falls out. The smaller
 * of the second's and the third's: the third ones are fewer and noisier, the second ones see bends.
 */
function scatterOf(
  samples: readonly FamilySample[],
  residuals: readonly number[],
  formal: (sample: FamilySample) => number = () => 1,
): number {
  const found = DIFFERENCES.flatMap((pattern) => {
    const ratios: number[] = [];
    // Segments come line by line, by rising coordinate along it.
    for (let i = 0; i + pattern.length <= samples.length; i++) {
      const { strokeId } = samples[i].segment;
      if (samples[i + pattern.length - 1].segment.strokeId !== strokeId) continue;
      let variance = 0;
      let departure = 0;
      pattern.forEach((weight, k) => {
        variance += (weight * formal(samples[i + k])) ** 2;
        departure += weight * residuals[i + k];
      });
      ratios.push(departure / Math.sqrt(variance));
    }
    return ratios.length >= FEWEST_MEASURED ? [robustSigma(ratios)] : [];
  });
  if (found.length > 0) return Math.min(...found);
  return robustSigma(residuals.map((r, i) => r / formal(samples[i])));
}

function observe(place: SegmentPlace, offsetPx: number, sigmaPx: number): SegmentObservation {
  return { segmentId: place.segment.id, ...sightingAt(place, offsetPx), sigmaPx };
}

/** Where the mark is seen that lies this far off its predicted place. */
function sightingAt(place: SegmentPlace, offsetPx: number) {
  const { xMm, yMm, normalU, normalV } = place;
  return {
    xMm,
    yMm,
    uPx: place.uPx + offsetPx * normalU,
    vPx: place.vPx + offsetPx * normalV,
    normalU,
    normalV,
  };
}

function refineMap(start: ImageMap, good: readonly Measured[]): ImageMap {
  return (
    fitImageMap(
      start,
      good.map(({ segment, observation }) => ({
        ...observation,
        family: segment.axis === 'x' ? 0 : 1,
      })),
    ) ?? start
  );
}
