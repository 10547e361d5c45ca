/** Marks of another program near a line of this one: what they spoil of it, and how near they run. */

/** A straight mark in the frame of the program whose line is looked at; mm. */
export interface StraightMark {
  readonly fromMm: readonly [x: number, y: number];
  readonly toMm: readonly [x: number, y: number];
}

/** Stretch [from, to] along a line, mm. */
type Span = readonly [from: number, to: number];

/** Where another program's marks lie is known from the picture, less the errors of the machine; mm. */
const PLACE_MM = 0.5;
/** A mark that runs along this near leaves the line's own mark no board beside it; mm. */
const CLOSEST_MM = 4;
/** Across over along, below which a mark runs along the line rather than across it. */
const ALONG_SLOPE = 0.35;
/** Farther than this beyond a segment's end a mark leaves no trace in its profile; mm. */
const BEYOND_MM = 3;

/**
 * The stretches of the line at `positionMm` that marks of another program cross, or run along too near.
 *
 * @param axis 'x': a line at constant X.
 */
export function spoiltBy(
  others: readonly StraightMark[],
  positionMm: number,
  axis: 'x' | 'y',
  clearanceMm: number,
): Span[] {
  return others.flatMap((mark) => {
    const band = runsAlong(mark, axis) ? CLOSEST_MM : clearanceMm + PLACE_MM;
    const near = withinBand(placeOf(mark, positionMm, axis), band);
    return near === undefined ? [] : [near];
  });
}

/** What is near a segment that was cut clear of them; empty where there are none. */
export function marksBeside(
  others: readonly StraightMark[],
  positionMm: number,
  [from, to]: Span,
  axis: 'x' | 'y',
): { besideMm?: number; clearMm?: number } {
  if (others.length === 0) return {};
  let besideMm = Number.POSITIVE_INFINITY;
  let clearMm = Number.POSITIVE_INFINITY;
  for (const mark of others) {
    const place = placeOf(mark, positionMm, axis);
    if (runsAlong(mark, axis)) {
      for (const across of acrossWithin(place, from - BEYOND_MM, to + BEYOND_MM)) {
        besideMm = Math.min(besideMm, Math.abs(across));
      }
    } else {
      const near = withinBand(place, CLOSEST_MM);
      if (near === undefined) continue;
      for (const end of near) {
        clearMm = Math.min(clearMm, Math.abs(end - from), Math.abs(end - to));
      }
    }
  }
  return {
    ...(Number.isFinite(besideMm) ? { besideMm } : {}),
    ...(Number.isFinite(clearMm) ? { clearMm } : {}),
  };
}

/** Ends of a mark, across the line and along it; mm. */
interface Place {
  readonly across: Span;
  readonly along: Span;
}

function placeOf({ fromMm, toMm }: StraightMark, positionMm: number, axis: 'x' | 'y'): Place {
  const [a, b] = axis === 'x' ? ([0, 1] as const) : ([1, 0] as const);
  return {
    across: [fromMm[a] - positionMm, toMm[a] - positionMm],
    along: [fromMm[b], toMm[b]],
  };
}

function runsAlong(mark: StraightMark, axis: 'x' | 'y'): boolean {
  const { across, along } = placeOf(mark, 0, axis);
  return Math.abs(across[1] - across[0]) < ALONG_SLOPE * Math.abs(along[1] - along[0]);
}

/** The part of a mark within a distance of the line, along the line. */
function withinBand({ across, along }: Place, halfWidthMm: number): Span | undefined {
  const step = across[1] - across[0];
  let [enter, leave] = [0, 1];
  if (Math.abs(step) < Number.EPSILON * halfWidthMm) {
    if (Math.abs(across[0]) > halfWidthMm) return undefined;
  } else {
    const shares = [(-halfWidthMm - across[0]) / step, (halfWidthMm - across[0]) / step];
    enter = Math.max(0, Math.min(...shares));
    leave = Math.min(1, Math.max(...shares));
    if (enter > leave) return undefined;
  }
  const ends = [enter, leave].map((share) => along[0] + share * (along[1] - along[0]));
  return [Math.min(...ends), Math.max(...ends)];
}

/** How far across the line a mark lies at both ends of its part between two places along the line. */
function acrossWithin({ across, along }: Place, from: number, to: number): number[] {
  const [low, high] = [Math.max(from, Math.min(...along)), Math.min(to, Math.max(...along))];
  if (low > high) return [];
  const slope = (across[1] - across[0]) / (along[1] - along[0]);
  const ends = [low, high].map((at) => across[0] + slope * (at - along[0]));
  // It passes from one side to the other: nothing is left between.
  return ends[0]! * ends[1]! < 0 ? [...ends, 0] : ends;
}
