/** Nodes measured on the board: what became of them, which of them disagree, and whether the photos agree with them. */

import {
  COVERAGE_FACTOR,
  type EvidenceRecord,
  type PointsRecord,
  type Quantity,
} from '../../shared/schemas/measurement.js';
import {
  type Adjustment,
  adjust,
  estimateMachine,
  isKept,
  type MachineEstimates,
} from '../network/index.js';
import type { Finding } from '../quantity/index.js';
import { nameOutlyingLines } from './name-outlying-lines.js';
import type { PointsOnBoard } from './place-points.js';
import type { PointsFile } from './read-points.js';

export interface WeighedPoints {
  readonly records: readonly PointsRecord[];
  readonly evidence: readonly EvidenceRecord[];
  readonly findings: readonly Finding[];
}

/**
 * @param adjustment with the points, which stand behind the photos' observations.
 * @param withoutPoints the rest by itself; absent where there is none.
 */
export function weighPoints(
  adjustment: Adjustment,
  withoutPoints: Adjustment | undefined,
  points: PointsOnBoard,
  files: readonly PointsFile[],
): WeighedPoints {
  const { network, linearised, stochastic } = adjustment;
  const first = network.input.observations.length - points.observations.length;
  const seen = points.observations.map(({ file, sourceLine }, i) => ({
    file,
    sourceLine,
    residualMm: linearised.residual[first + i],
    isKept: isKept(network.input, stochastic, first + i),
  }));
  const findings: Finding[] = [];
  const records = files.map(({ name, sha256, nodes }, file): PointsRecord => {
    const own = seen.filter((one) => one.file === file);
    const kept = own.filter((one) => one.isKept);
    const square = kept.reduce((sum, { residualMm }) => sum + residualMm ** 2, 0);
    const out = new Map<number, number>();
    for (const one of own.filter(({ isKept }) => !isKept)) {
      out.set(one.sourceLine, Math.hypot(out.get(one.sourceLine) ?? 0, one.residualMm));
    }
    if (out.size > 0) findings.push(describeOutliers(name, out));
    return {
      file: name,
      sha256,
      points: nodes.length,
      outliers: out.size,
      rmsMm: kept.length > 0 ? Math.sqrt(square / kept.length) : 0,
    };
  });
  const evidence =
    withoutPoints === undefined
      ? []
      : compare(adjustment, withoutPoints, files.map(({ name }) => name).join(', '));
  return { records, evidence, findings };
}

function describeOutliers(name: string, out: ReadonlyMap<number, number>): Finding {
  return {
    code: 'POINTS_DISAGREE',
    message: `nodes lie beside the place that all others foretell, and were left out: ${nameOutlyingLines(out, 'mm', 3)}`,
    hint: 'look for a slip of the keyboard, or measure these nodes again',
    where: name,
  };
}

/** Points and all the rest are independent: normalised error of their difference (ISO 13528). */
function compare(
  { network: { input } }: Adjustment,
  withoutPoints: Adjustment,
  name: string,
): EvidenceRecord[] {
  const first = input.photos.length;
  const pointsAlone = adjust({
    ...input,
    cameras: [],
    photos: [],
    evidence: [],
    observations: input.observations
      .filter(({ photo }) => photo >= first)
      .map((one) => ({ ...one, photo: 0 })),
  });
  if (!pointsAlone.ok) return [];
  const own = estimateMachine(pointsAlone.value);
  const rest = estimateMachine(withoutPoints);
  return PAIRS.flatMap(([words, unit, pick]) => {
    const [a, b] = [pick(own), pick(rest)];
    if (a.state !== 'measured' || b.state === 'undetermined') return [];
    return [
      {
        what: `${words} by ${name}`,
        given: a.value,
        adjusted: b.value,
        unit,
        u: a.u,
        En: Math.abs(a.value - b.value) / (COVERAGE_FACTOR * Math.hypot(a.u, b.u)),
      },
    ];
  });
}

const PAIRS: readonly (readonly [
  words: string,
  unit: EvidenceRecord['unit'],
  pick: (estimates: MachineEstimates) => Quantity,
])[] = [
  ['squareness', 'rad', ({ squareness }) => squareness],
  ['scale X', '1', ({ scale }) => scale.x],
  ['scale Y', '1', ({ scale }) => scale.y],
  ['scale X : Y', '1', ({ scale }) => scale.ratio],
];
