/** The adjustment's unknowns → the quantities people ask for, each with uncertainty and state. */

import {
  COVERAGE_FACTOR,
  type CurvePoint,
  type DeviationRecord,
  type EvidenceRecord,
  type Measurement,
  type Quantity,
} from '../../shared/schemas/measurement.js';
import {
  COMMON_SCALE,
  LOST_MOTION_X,
  LOST_MOTION_Y,
  SCALE_DIFFERENCE,
  SQUARENESS,
} from '../machine/index.js';
import { quadraticForm, sampleNormal } from '../numerics/index.js';
import type { Adjustment } from './adjust.js';
import { adviseOn, type QuantityName } from './advice.js';
import { BOARD_TERMS } from './board-surface.js';
import { estimateAmplitude } from './estimate-amplitude.js';
import { isCameraFree } from './placement-turns.js';
import { type Judge, makeJudge, rankOf, type State } from './states.js';
import { weightOf } from './stochastic.js';
import { varianceShares } from './variance-shares.js';

export interface MachineEstimates {
  readonly squareness: Quantity;
  readonly scale: { readonly x: Quantity; readonly y: Quantity; readonly ratio: Quantity };
  readonly lostMotion: { readonly x: Quantity; readonly y: Quantity };
  readonly straightness: { readonly x: Quantity; readonly y: Quantity };
  readonly straightnessCurve: { readonly x: CurvePoint[]; readonly y: CurvePoint[] };
  readonly racking: Quantity & {
    curve?: CurvePoint[];
    squarenessAtEnds?: [CurvePoint, CurvePoint];
  };
  readonly periodic: { readonly x: PeriodicQuantity; readonly y: PeriodicQuantity };
  readonly drift: { readonly x: Quantity; readonly y: Quantity };
  /** Only where it is significantly not flat. */
  readonly board?: NonNullable<Measurement['board']>;
  readonly deviations: readonly DeviationRecord[];
  readonly evidence: readonly EvidenceRecord[];
  /** Correlation of squareness with the shared terms of each camera. */
  readonly squarenessCorrelation: Readonly<Record<string, number>>;
}

/** Amplitude, with period (mm) and phase (rad): deviation = amplitude · cos(2π place / period − phase). */
export type PeriodicQuantity = Quantity & { readonly period?: number; readonly phase?: number };

type Unit = 'rad' | 'rad/m' | 'mm' | '1';

/** Largest u with which a value that leans on camera priors is still shown: 0.5 mm/m, 0.1 mm. */
export const WEAK_LIMIT: Record<Unit, number> = { rad: 5e-4, 'rad/m': 5e-4, mm: 0.1, '1': 5e-4 };

interface Asked {
  readonly name: QuantityName;
  readonly axis: 'x' | 'y';
  readonly unit: Unit;
  readonly value: number;
  /** Derivatives by the parameters, sparse. */
  readonly by: readonly (readonly [parameter: number, slope: number])[];
  /** Parameters of the quantity itself with a prior of estimated size. */
  readonly own?: readonly number[];
  /** What it consists of: it is told no better than the worst of these, for it may be the largest. */
  readonly parts?: readonly Asked['by'][];
  /** Standard uncertainty where the linear one falls short. */
  readonly u?: number;
}

export function estimateMachine(adjustment: Adjustment): MachineEstimates {
  const { network, state } = adjustment;
  const { machine } = network;
  const { layout } = machine;
  const judge = makeJudge(adjustment);
  const v = state.values;
  const g = v[COMMON_SCALE];
  const d = v[SCALE_DIFFERENCE];
  const answer = (asked: Asked) => answerOne(adjustment, judge, asked);

  const scaleX = answer({
    name: 'scale',
    axis: 'x',
    unit: '1',
    value: (1 + g) * (1 + d) - 1,
    by: [
      [COMMON_SCALE, 1 + d],
      [SCALE_DIFFERENCE, 1 + g],
    ],
  });
  const scaleY = answer({
    name: 'scale',
    axis: 'y',
    unit: '1',
    value: (1 + g) * (1 - d) - 1,
    by: [
      [COMMON_SCALE, 1 - d],
      [SCALE_DIFFERENCE, -(1 + g)],
    ],
  });
  const lostMotion = (axis: 'x' | 'y', term: number) =>
    answer({ name: 'lostMotion', axis, unit: 'mm', value: v[term], by: [[term, 1]] });
  const drift = (axis: 'x' | 'y', term: number) =>
    answer({ name: 'drift', axis, unit: 'mm', value: v[term], by: [[term, 1]], own: [term] });
  // Straightness of X motion is seen in Y, and the other way round.
  const curveX = guideCurve(adjustment, 'straightnessY', layout.linesAtX);
  const curveY = guideCurve(adjustment, 'straightnessX', layout.linesAtY);

  return {
    squareness: answer({
      name: 'squareness',
      axis: 'y',
      unit: 'rad',
      value: v[SQUARENESS],
      by: [[SQUARENESS, 1]],
    }),
    scale: {
      x: scaleX,
      y: scaleY,
      ratio: answer({
        name: 'ratio',
        axis: 'x',
        unit: '1',
        value: (1 + d) / (1 - d) - 1,
        by: [[SCALE_DIFFERENCE, 2 / (1 - d) ** 2]],
      }),
    },
    lostMotion: { x: lostMotion('x', LOST_MOTION_X), y: lostMotion('y', LOST_MOTION_Y) },
    straightness: {
      x: answerBend(adjustment, judge, curveX, 'x'),
      y: answerBend(adjustment, judge, curveY, 'y'),
    },
    straightnessCurve: { x: curveX.points, y: curveY.points },
    racking: estimateRacking(adjustment, judge),
    periodic: {
      x: estimatePeriodic(adjustment, judge, 'x'),
      y: estimatePeriodic(adjustment, judge, 'y'),
    },
    drift: { x: drift('x', machine.index.driftX), y: drift('y', machine.index.driftY) },
    ...describeBoard(adjustment),
    deviations: listDeviations(adjustment, {
      x: scaleX.state !== 'undetermined',
      y: scaleY.state !== 'undetermined',
    }),
    evidence: weighEvidence(adjustment),
    squarenessCorrelation: correlateSquareness(adjustment),
  };
}

function gradientOf(adjustment: Adjustment, by: Asked['by']): Float64Array {
  const gradient = new Float64Array(adjustment.network.table.size);
  for (const [parameter, slope] of by) gradient[parameter] += slope;
  return gradient;
}

function answerOne(adjustment: Adjustment, judge: Judge, asked: Asked): Quantity {
  const gradient = gradientOf(adjustment, asked.by);
  const reach = judge.reach(gradient, asked.own ?? [], WEAK_LIMIT[asked.unit]);
  const state = (asked.parts ?? []).reduce<State>((worst, by) => {
    const own = judge.reach(gradientOf(adjustment, by), asked.own ?? [], WEAK_LIMIT[asked.unit]);
    return rankOf(own.state) > rankOf(worst) ? own.state : worst;
  }, reach.state);
  const u = Math.max(reach.u, asked.u ?? 0);
  if (state === 'undetermined') return leaveOpen(adjustment, asked.name, asked.axis);
  const estimate = {
    value: asked.value + reach.shift,
    unit: asked.unit,
    u,
    k: COVERAGE_FACTOR,
    U: COVERAGE_FACTOR * u,
    state,
    share: varianceShares(adjustment, gradient),
  } as const;
  if (state === 'measured') return estimate;
  const advice = adviseOn(adjustment, asked.name, asked.axis, state);
  return { ...estimate, reason: advice.reason, add: [...advice.add] };
}

function leaveOpen(adjustment: Adjustment, name: QuantityName, axis: 'x' | 'y'): Quantity {
  const { reason, add } = adviseOn(adjustment, name, axis, 'undetermined');
  return { state: 'undetermined', reason, add: [...add] };
}

interface GuideCurve {
  readonly points: CurvePoint[];
  readonly terms: readonly number[];
  /** Value of each term's shape at each point. */
  readonly shapes: readonly number[][];
}

/** Deviation across the travel at each line, the least-squares line taken away by construction. */
function guideCurve(
  { network, state, covariance }: Adjustment,
  kind: 'straightnessX' | 'straightnessY',
  places: readonly number[],
): GuideCurve {
  const { machine, table } = network;
  const terms = machine.index[kind];
  const shapes = places.map((place) => terms.map((_, k) => machine.shape(kind, k, place)));
  const machineValues = state.values.subarray(0, machine.terms.length);
  const deviationAt = (at: number) =>
    kind === 'straightnessX'
      ? machine.straightnessInX(machineValues, at)
      : machine.straightnessInY(machineValues, at);
  const points = places.map((at, i) => {
    const gradient = new Float64Array(table.size);
    terms.forEach((term, k) => {
      gradient[term] = shapes[i][k];
    });
    return { at, value: deviationAt(at), u: Math.sqrt(quadraticForm(covariance, gradient)) };
  });
  return { points, terms, shapes };
}

/** Two or three places carry no bend: zero would be made up. */
function answerBend(
  adjustment: Adjustment,
  judge: Judge,
  curve: GuideCurve,
  axis: 'x' | 'y',
): Quantity {
  return curve.terms.length === 0
    ? leaveOpen(adjustment, 'straightness', axis)
    : answerOne(adjustment, judge, peakToValley(adjustment, curve, axis));
}

/** Draws of the shape from which the spread of its peak-to-valley is read: 3 % of it. */
const DRAWS = 600;

/**
 * A range is no linear function: noise makes it larger, and which places are highest and lowest is
 * itself uncertain. Draws about the adjusted shape (GUM supplement 1, JCGM 101:2008) show by how much
 * noise widens a range; that is taken off, and their spread is the uncertainty.
 */
function peakToValley(
  { covariance, network, state }: Adjustment,
  { points, terms, shapes }: GuideCurve,
  axis: 'x' | 'y',
): Asked {
  const range = (values: readonly number[]) => {
    let peak = 0;
    let valley = 0;
    values.forEach((value, i) => {
      if (value > values[peak]) peak = i;
      if (value < values[valley]) valley = i;
    });
    return { peak, valley, size: values[peak] - values[valley] };
  };
  const n = network.table.size;
  const { peak, valley, size } = range(points.map(({ value }) => value));
  const block = terms.map((p) => terms.map((q) => covariance[p * n + q]));
  const mean = terms.map((term) => state.values[term]);
  const asked = {
    name: 'straightness',
    axis,
    unit: 'mm',
    by: terms.map((term, k) => [term, shapes[peak][k] - shapes[valley][k]] as const),
    own: terms,
    parts: terms.map((term) => [[term, 1]] as const),
  } as const;
  const draws = sampleNormal(mean, block, DRAWS);
  if (draws === undefined) return { ...asked, value: size };
  const sizes = draws.map(
    (draw) =>
      range(shapes.map((row) => row.reduce((sum, shape, k) => sum + shape * draw[k], 0))).size,
  );
  const meanSize = sizes.reduce((sum, one) => sum + one, 0) / DRAWS;
  const square = sizes.reduce((sum, one) => sum + (one - meanSize) ** 2, 0);
  return {
    ...asked,
    value: Math.max(0, 2 * size - meanSize),
    // The widening itself is known only as well as the shape: it counts once more as doubt.
    u: Math.hypot(Math.sqrt(square / (DRAWS - 1)), meanSize - size),
  };
}

function estimateRacking(adjustment: Adjustment, judge: Judge): MachineEstimates['racking'] {
  const { network, state, covariance } = adjustment;
  const { machine, table } = network;
  const { layout } = machine;
  if (layout.gantryAxis === 'none') {
    return {
      state: 'undetermined',
      reason: 'the table moves, not a gantry: there is nothing to rack',
      add: [],
    };
  }
  const places = layout.gantryAxis === 'y' ? layout.linesAtY : layout.linesAtX;
  const from = places[0];
  const to = places[places.length - 1];
  const [slopeTerm] = machine.index.yaw;
  const perMetre =
    (1000 * (machine.shape('yaw', 0, to) - machine.shape('yaw', 0, from))) / (to - from);
  const quantity = answerOne(adjustment, judge, {
    name: 'racking',
    axis: layout.gantryAxis,
    unit: 'rad/m',
    value: state.values[slopeTerm] * perMetre,
    by: [[slopeTerm, perMetre]],
  });
  if (quantity.state === 'undetermined') return quantity;
  // Seen from above anticlockwise, yaw carries the beam of a gantry along Y with Y leaning toward +X, that of one
  // along X against it.
  const sense = layout.gantryAxis === 'y' ? 1 : -1;
  const at = (place: number, isSquareness: boolean): CurvePoint => {
    const gradient = new Float64Array(table.size);
    if (isSquareness) gradient[SQUARENESS] = 1;
    const ofYaw = isSquareness ? sense : 1;
    machine.index.yaw.forEach((term, k) => {
      gradient[term] = ofYaw * machine.shape('yaw', k, place);
    });
    const value =
      (isSquareness ? state.values[SQUARENESS] : 0) +
      ofYaw * machine.yaw(state.values.subarray(0, machine.terms.length), place);
    return { at: place, value, u: Math.sqrt(quadraticForm(covariance, gradient)) };
  };
  return {
    ...quantity,
    curve: places.map((place) => at(place, false)),
    squarenessAtEnds: [at(from, true), at(to, true)],
  };
}

function estimatePeriodic(adjustment: Adjustment, judge: Judge, axis: 'x' | 'y'): PeriodicQuantity {
  const { network, state, covariance } = adjustment;
  const { machine, table } = network;
  const own = axis === 'x' ? machine.index.periodicX : machine.index.periodicY;
  const period = machine.layout.periodsMm?.[axis];
  if (period === undefined) return leaveOpen(adjustment, 'periodic', axis);
  const [c, s] = own;
  const n = table.size;
  const [cosine, sine] = [state.values[c], state.values[s]];
  const amplitude = estimateAmplitude(cosine, sine, {
    cc: covariance[c * n + c],
    ss: covariance[s * n + s],
    cs: covariance[c * n + s],
  });
  const quantity = answerOne(adjustment, judge, {
    name: 'periodic',
    axis,
    unit: 'mm',
    value: amplitude.value,
    by: [
      [c, amplitude.worst[0]],
      [s, amplitude.worst[1]],
    ],
    own,
    u: amplitude.u,
  });
  return {
    ...quantity,
    period,
    ...(quantity.state === 'undetermined' ? {} : { phase: Math.atan2(sine, cosine) }),
  };
}

/**
 * Per line: actual minus commanded position, forward and reverse (ISO 230-2): what the machine's terms say, and how the
 * line's own marks of either approach lie beside that.
 *
 * @param isScaleKnown of an axis whose scale is not, the slope is left out.
 */
function listDeviations(
  adjustment: Adjustment,
  isScaleKnown: Readonly<Record<'x' | 'y', boolean>>,
): DeviationRecord[] {
  const { network, state, covariance } = adjustment;
  const { machine, table, input } = network;
  const v = state.values;
  const records: DeviationRecord[] = [];
  const beside = marksBeside(adjustment);
  const { linesAtX, linesAtY, rungsAtX = [], rungsAtY = [] } = machine.layout;
  for (const [axis, lines, rungs, reversal, stretch] of [
    ['x', linesAtX, rungsAtX, LOST_MOTION_X, 1],
    ['y', linesAtY, rungsAtY, LOST_MOTION_Y, -1],
  ] as const) {
    const withScale = isScaleKnown[axis];
    const g = withScale ? v[COMMON_SCALE] : 0;
    [...lines, ...rungs].forEach((place, k) => {
      const senses = new Set(
        input.segments.filter((s) => s.axis === axis && s.line === k).map((s) => s.approach),
      );
      if (senses.size === 0) return;
      const scale = withScale ? (1 + g) * (1 + stretch * v[SCALE_DIFFERENCE]) - 1 : 0;
      const gradient = new Float64Array(table.size);
      const deviation = machine.position(axis, v, k, (term, slope) => {
        gradient[term] += slope;
      });
      const middle = place * scale + (1 + g) * deviation;
      if (withScale) {
        gradient[COMMON_SCALE] = place;
        gradient[SCALE_DIFFERENCE] = stretch * place;
      }
      // Lost motion moves each direction by its half; its own uncertainty is common to all lines.
      const side = (sense: number) => {
        gradient[reversal] = -sense / 2;
        const own = beside(axis, k, sense);
        return {
          value: middle - (1 + g) * sense * (v[reversal] / 2) + own.value,
          variance: quadraticForm(covariance, gradient) + own.variance,
          ownVariance: own.variance,
        };
      };
      const told = [...senses].map((sense) => ({ sense, ...side(sense) }));
      const pair = told.filter(({ sense }) => sense !== 0);
      const record: DeviationRecord = {
        placement: 0,
        axis,
        commanded: place,
        ...(k >= lines.length ? { rung: true } : {}),
        u: Math.sqrt(Math.max(...told.map(({ variance }) => variance))),
        ...(pair.length === 2
          ? {
              uReversal: Math.sqrt(
                covariance[reversal * table.size + reversal] +
                  pair.reduce((sum, { ownVariance }) => sum + ownVariance, 0),
              ),
            }
          : {}),
      };
      for (const { sense, value } of told) {
        if (sense === 1) record.forward = value;
        if (sense === -1) record.reverse = value;
        if (sense === 0 && senses.size === 1) record.forward = value;
      }
      records.push(record);
    });
  }
  return records;
}

/**
 * How the marks of a line that were approached from one side lie beside what the machine's terms say, on the
 * average; mm. Lost motion that is not the same everywhere shows there, as no term of the machine has it.
 */
function marksBeside({
  network,
  linearised,
  stochastic,
}: Adjustment): (
  axis: 'x' | 'y',
  line: number,
  sense: number,
) => { readonly value: number; readonly variance: number } {
  const { input, observationsOf } = network;
  const sums = new Map<string, { weight: number; load: number }>();
  for (const [j, { axis, line, approach, placement }] of input.segments.entries()) {
    if (line === undefined) continue;
    let pull = 0;
    let load = 0;
    for (const i of observationsOf[j]) {
      const h = linearised.byOffset[i];
      const w = weightOf(input, stochastic, i);
      pull += w * h * h;
      load += w * h * linearised.residual[i];
    }
    if (pull === 0) continue;
    const variance = 1 / pull + stochastic.sigmaMarkMm[placement] ** 2;
    const key = `${axis} ${line} ${approach}`;
    const sum = sums.get(key) ?? { weight: 0, load: 0 };
    sum.weight += 1 / variance;
    sum.load += load / pull / variance;
    sums.set(key, sum);
  }
  return (axis, line, sense) => {
    const sum = sums.get(`${axis} ${line} ${sense}`);
    return sum === undefined
      ? { value: 0, variance: 0 }
      : { value: sum.load / sum.weight, variance: 1 / sum.weight };
  };
}

function describeBoard({
  network,
  state,
  covariance,
}: Adjustment): Pick<MachineEstimates, 'board'> {
  const { boardAt, table, input } = network;
  // The height of a bow goes with the focal length, which no single free picture tells.
  const focalKnown = input.cameras.every(({ focalLengthPx }) => focalLengthPx !== undefined);
  if (isCameraFree(input) && !focalKnown) return {};
  const [bowX, bowY, twist] = BOARD_TERMS.map((_, k) => {
    const p = boardAt + k;
    return { value: state.values[p], u: Math.sqrt(covariance[p * table.size + p]) };
  });
  const significant = [bowX, bowY, twist].some(
    ({ value, u }) => Math.abs(value) > COVERAGE_FACTOR * u,
  );
  return significant ? { board: { bowX, bowY, twist } } : {};
}

/** Each piece of evidence against what all the rest foretells (normalised error En, ISO 13528). */
function weighEvidence(adjustment: Adjustment): EvidenceRecord[] {
  return adjustment.network.input.evidence.map((item, i) => {
    const { residual, redundancy, sigma } = adjustment.evidence[i];
    const given = item.kind === 'square' ? item.squarenessRad : item.lengthMm;
    const record: EvidenceRecord = {
      what: item.what,
      given,
      adjusted: given - residual,
      unit: item.kind === 'square' ? 'rad' : 'mm',
      u: sigma,
    };
    // Below this the rest has no say of its own, and the residual is zero whatever was given.
    if (redundancy > LEAST_SAY) {
      record.En = Math.abs(residual) / (COVERAGE_FACTOR * sigma * Math.sqrt(redundancy));
    }
    return record;
  });
}

const LEAST_SAY = 0.01;

function correlateSquareness({ network, covariance }: Adjustment): Record<string, number> {
  const n = network.table.size;
  const own = covariance[SQUARENESS * n + SQUARENESS];
  const result: Record<string, number> = {};
  network.table.list.forEach(({ name, role }, p) => {
    if (role !== 'sharedCamera' && role !== 'distortion') return;
    const r = covariance[SQUARENESS * n + p] / Math.sqrt(own * covariance[p * n + p]);
    result[name] = Math.round(r * 1000) / 1000;
  });
  return result;
}
