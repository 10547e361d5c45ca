/**
 * The distance of the rungs of a ladder: one that lets them meet a periodic error at all its phases.
 *
 * Lines at multiples of the lead always meet a screw's error at the same phase, and show nothing of
 * it. Rungs at a distance that shares no simple ratio with the period do.
 */

/** Rungs: what the ladder may use. All in the program's units. */
export interface LadderRoom {
  /** Lines stand at 0, spacing, 2 spacing, ... up to length. */
  readonly spacing: number;
  readonly length: number;
  /** Cell that the other axis' ladder takes. */
  readonly takenCell: number;
  /** Least distance of a rung from a line. */
  readonly clearance: number;
}

/**
 * Travel per turn of what drives routers, mm: screws of 2 to 12 mm lead, belts on pulleys of 16 to 24
 * teeth of 2 mm, pinions of module 1 to 1.25 (common practice, no source).
 */
export const USUAL_PERIODS_MM = [2, 4, 5, 8, 10, 12, 32, 40, 48, 62.832, 78.54, 94.248] as const;

/** Rungs stand at least this share of the spacing apart: one or two in a cell. */
const LEAST_SHARE = 0.38;
const MOST_SHARE = 0.8;

/**
 * Chooses the distance at which the worst of the periods is seen best.
 *
 * @param periods in the same units as the room; not empty.
 * @param step of the distances to choose from.
 */
export function chooseLadderPitch(
  room: LadderRoom,
  periods: readonly number[],
  step: number,
): number {
  let best = { pitch: room.spacing * LEAST_SHARE, merit: Number.NEGATIVE_INFINITY };
  const from = Math.ceil((LEAST_SHARE * room.spacing) / step);
  const to = Math.floor((MOST_SHARE * room.spacing) / step);
  for (let k = from; k <= to; k += 1) {
    const pitch = k * step;
    const places = ladderPlaces(room, pitch);
    // An error that repeats twice in a turn, as of a bent coupling, must not hide either.
    const merit = Math.min(
      ...periods.flatMap((period) => [
        phaseInformation(places, period),
        phaseInformation(places, period / 2),
      ]),
    );
    // More than rounding, so that every computer chooses the same.
    if (merit > best.merit + 1e-9) best = { pitch, merit };
  }
  return best.pitch;
}

/** Where the rungs stand: multiples of the pitch that keep clear of the lines. */
export function ladderPlaces(room: LadderRoom, pitch: number): number[] {
  const places: number[] = [];
  for (let k = 1; k * pitch < room.length; k += 1) {
    const place = k * pitch;
    const nearest = Math.round(place / room.spacing) * room.spacing;
    const isTaken = Math.floor(place / room.spacing) === room.takenCell;
    if (!isTaken && Math.abs(place - nearest) >= room.clearance - 1e-9) places.push(place);
  }
  return places;
}

/**
 * What places tell about the worse of sine and cosine of a period beside an unknown shift: the
 * smaller eigenvalue of their scatter matrix. Grows with the number of places; 0 where all share a
 * phase or only two.
 */
export function phaseInformation(places: readonly number[], period: number): number {
  const n = places.length;
  if (n === 0) return 0;
  let [c, s, cc, ss, cs] = [0, 0, 0, 0, 0];
  for (const place of places) {
    const angle = (2 * Math.PI * place) / period;
    const [cosine, sine] = [Math.cos(angle), Math.sin(angle)];
    c += cosine;
    s += sine;
    cc += cosine * cosine;
    ss += sine * sine;
    cs += cosine * sine;
  }
  const [a, b, d] = [cc - (c * c) / n, ss - (s * s) / n, cs - (c * s) / n];
  return (a + b) / 2 - Math.hypot((a - b) / 2, d);
}
