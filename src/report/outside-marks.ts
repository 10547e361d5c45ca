/** Which lines and places of the grid are told to be out of tolerance: beyond a limit by more than their uncertainty. */

import { COVERAGE_FACTOR, type Measurement } from '../../shared/schemas/measurement.js';
import { compareWithLimit, middlesOf } from '../correction/index.js';

/** Lost motion and place belong to a line; a bend to all marks at one place of a travel. */
export type OutsideKind = 'lost motion' | 'place' | 'bend';

export interface OutsideMark {
  /** From 1, as in pictures and tables. */
  readonly number: number;
  readonly kind: OutsideKind;
  /** Of the motion. */
  readonly axis: 'x' | 'y';
  readonly placement: number;
  /** Commanded position along that axis, mm: of the line, or of the place of a bend. */
  readonly atMm: number;
  /** What is compared with the limit, signed; mm. */
  readonly valueMm: number;
  /** Expanded. */
  readonly UMm: number;
  readonly allowedMm: number;
}

export interface OutsideMarks {
  /** Whether there were limits to hold anything against. */
  readonly isJudged: boolean;
  readonly marks: readonly OutsideMark[];
  /** Quantities outside their limits that no line or place by itself shows. */
  readonly elsewhere: readonly (
    | 'squareness'
    | `${'scale' | 'lostMotion' | 'straightness'}.${'x' | 'y'}`
  )[];
  /** Of those outside: what the picture says at the axes themselves. */
  readonly outside: readonly string[];
}

type Told = Pick<
  Measurement,
  'verdicts' | 'deviations' | 'scale' | 'lostMotion' | 'straightness' | 'straightnessCurve'
>;

/**
 * A line is out of tolerance where its own lost motion exceeds the limit, or where the scale is outside its limit and
 * the line lies farther from its place than the limit lets it at that distance from the commanded zero. A place of a
 * travel is, where it leaves the zone whose width is the limit of straightness and whose middle is halfway between the
 * farthest strays.
 *
 * Source: ISO 14253-1:2017, as for the quantities themselves.
 */
export function outsideMarks(measurement: Told): OutsideMarks {
  const limitOf = (what: string) => measurement.verdicts.find((one) => one.what === what);
  const marks: Omit<OutsideMark, 'number'>[] = [];
  for (const axis of ['x', 'y'] as const) {
    marks.push(
      ...lostMotions(measurement, axis, limitOf(`lostMotion.${axis}`)?.limit),
      ...places(measurement, axis, limitOf(`scale.${axis}`)),
      ...bends(measurement, axis, limitOf(`straightness.${axis}`)?.limit),
    );
  }
  const outside = measurement.verdicts
    .filter(({ verdict }) => verdict === 'outside')
    .map(({ what }) => what);
  const shown = new Set(marks.map(({ kind, axis }) => `${QUANTITY_OF[kind]}.${axis}`));
  return {
    isJudged: measurement.verdicts.length > 0,
    marks: marks.map((mark, i) => ({ number: i + 1, ...mark })),
    elsewhere: outside.filter((what) => !shown.has(what)) as OutsideMarks['elsewhere'],
    outside,
  };
}

const QUANTITY_OF: Record<OutsideKind, 'lostMotion' | 'scale' | 'straightness'> = {
  'lost motion': 'lostMotion',
  place: 'scale',
  bend: 'straightness',
};

function lostMotions(
  { deviations, lostMotion }: Told,
  axis: 'x' | 'y',
  limit: number | undefined,
): Omit<OutsideMark, 'number'>[] {
  if (limit === undefined || lostMotion[axis].state !== 'measured') return [];
  return deviations.flatMap((line) => {
    const { forward, reverse, u, uReversal, placement, commanded } = line;
    if (line.axis !== axis || line.rung === true) return [];
    if (forward === undefined || reverse === undefined) return [];
    // Lagging makes lines approached falling lie higher: + lags.
    const valueMm = reverse - forward;
    const UMm = COVERAGE_FACTOR * (uReversal ?? Math.SQRT2 * u);
    if (compareWithLimit(Math.abs(valueMm), UMm, limit) !== 'outside') return [];
    return [
      { kind: 'lost motion', axis, placement, atMm: commanded, valueMm, UMm, allowedMm: limit },
    ];
  });
}

function places(
  { deviations, scale }: Told,
  axis: 'x' | 'y',
  judged: { readonly limit: number; readonly verdict: string } | undefined,
): Omit<OutsideMark, 'number'>[] {
  const quantity = scale[axis];
  if (judged?.verdict !== 'outside' || quantity.state !== 'measured') return [];
  const own = deviations.filter((line) => line.axis === axis && line.rung !== true);
  const placements = new Set(own.map(({ placement }) => placement));
  return [...placements].flatMap((placement) => {
    const lines = own.filter((line) => line.placement === placement);
    return middlesOf(lines).flatMap(({ at, value }) => {
      const line = lines.find(({ commanded }) => commanded === at);
      // mm per metre of distance.
      const allowedMm = (judged.limit * Math.abs(at)) / 1000;
      const isItsScale = value * at * quantity.value > 0;
      if (line === undefined || !isItsScale) return [];
      const UMm = COVERAGE_FACTOR * line.u;
      if (compareWithLimit(Math.abs(value), UMm, allowedMm) !== 'outside') return [];
      return [
        { kind: 'place' as const, axis, placement, atMm: at, valueMm: value, UMm, allowedMm },
      ];
    });
  });
}

function bends(
  { straightness, straightnessCurve }: Told,
  axis: 'x' | 'y',
  limit: number | undefined,
): Omit<OutsideMark, 'number'>[] {
  const curve = straightnessCurve?.[axis] ?? [];
  if (limit === undefined || straightness[axis].state !== 'measured' || curve.length === 0)
    return [];
  const values = curve.map(({ value }) => value);
  const middle = (Math.max(...values) + Math.min(...values)) / 2;
  return curve.flatMap(({ at, value, u }) => {
    const valueMm = value - middle;
    const UMm = COVERAGE_FACTOR * u;
    if (compareWithLimit(Math.abs(valueMm), UMm, limit / 2) !== 'outside') return [];
    return [{ kind: 'bend', axis, placement: 0, atMm: at, valueMm, UMm, allowedMm: limit / 2 }];
  });
}
