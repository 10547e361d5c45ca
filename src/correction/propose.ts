/** What to change on the machine, in which order, and what to leave alone. */

import type { EvidenceFile } from '../../shared/schemas/evidence.js';
import type { MachineFile } from '../../shared/schemas/machine.js';
import type { Measurement, ProposalRecord } from '../../shared/schemas/measurement.js';
import { boardMayHaveMoved } from './board-age.js';
import { leaveAlone } from './leave-alone.js';
import { type Judged, type Limited, type LimitedKey, listLimited } from './limits.js';
import { likenessOfGuide } from './looks-like.js';
import { proposeLostMotion } from './propose-lost-motion.js';
import { proposeRacking, proposeStraightening } from './propose-mechanics.js';
import { mendPeriod, mendShape, whatWouldBeHidden } from './propose-shapes.js';
import { proposeSquareness } from './propose-squareness.js';
import { proposeSteps, refuseByGeometry } from './propose-steps.js';
import { readShapes } from './read-shape.js';
import { scaleAt20Felt } from './scale-at-20.js';

/** The part of a measurement from which proposals follow. */
export type Proposable = Judged &
  Pick<Measurement, 'racking' | 'gantryAxis' | 'photos' | 'placements'> &
  Partial<
    Pick<
      Measurement,
      'straightnessCurve' | 'evidence' | 'scaleAt20' | 'fresh' | 'deviations' | 'periodic'
    >
  >;

/**
 * Proposes changes in the order in which they have to be made: mechanics, squareness, lost motion,
 * steps per unit, each followed by a new measurement, because each changes what follows it.
 * What is weak or undetermined is named and left alone.
 *
 * Amounts stand in the record's fields, in mm, mm/m, steps/mm or %; `why` is for people.
 */
export function propose(
  measurement: Proposable,
  machine: MachineFile | undefined,
  evidence: EvidenceFile | undefined,
): ProposalRecord[] {
  const limited = new Map(listLimited(measurement, machine).map((one) => [one.what, one]));
  const of = (what: LimitedKey) => limited.get(what)!;
  const curve = measurement.straightnessCurve;
  const gantryAxis = machine?.gantryAxis ?? measurement.gantryAxis;
  const takenAt = measurement.photos.find((photo) => photo.takenAt !== undefined)?.takenAt;
  const moved = boardMayHaveMoved(evidence, takenAt);
  const straighten = (axis: 'x' | 'y') =>
    decide(of(`straightness.${axis}`), (straightness) => ({
      ...proposeStraightening(axis, straightness, curve?.[axis]),
      ...likenessOfGuide(curve?.[axis]),
    }));
  const drives = { x: machine?.axes?.x?.drive, y: machine?.axes?.y?.drive };
  const shapes = {
    x: readShapes(measurement.deviations ?? [], 'x'),
    y: readShapes(measurement.deviations ?? [], 'y'),
  };
  const mend = (axis: 'x' | 'y') => [
    ...shapes[axis].map((shape) => mendShape(axis, shape, drives[axis])),
    mendPeriod(axis, measurement.periodic?.[axis], of(`lostMotion.${axis}`).limit, drives[axis]),
  ];
  const tighten = (axis: 'x' | 'y') =>
    decide(of(`lostMotion.${axis}`), (lostMotion) =>
      proposeLostMotion(axis, lostMotion, machine?.axes?.[axis]?.drive),
    );
  const contradicted = measurement.evidence?.find(
    // Two ways to a ratio that disagree say nothing of a length.
    ({ unit, En, byPhotosAlone }) => unit !== 'rad' && byPhotosAlone !== true && (En ?? 0) > 1,
  );
  const rescale = (axis: 'x' | 'y') =>
    decide(of(`scale.${axis}`), (scale) => {
      const what = `scale.${axis}`;
      if (contradicted !== undefined) return refuseContradicted(what, contradicted.what);
      if (moved !== undefined) return refuseOldMarks(what, moved);
      const hidden = whatWouldBeHidden(axis, scale, shapes[axis], measurement.placements);
      if (hidden !== undefined) return { what, leaveAlone: true, why: hidden };
      const odd = refuseByGeometry(axis, scale, machine);
      if (odd !== undefined) return { what, leaveAlone: true, why: odd };
      return proposeSteps(axis, scale, machine, scaleAt20Felt(measurement, axis));
    });

  const records = [
    ...mend('x'),
    ...mend('y'),
    straighten('x'),
    straighten('y'),
    // Yaw was fitted along the axis that the measurement assumed; for another one it says nothing.
    gantryAxis === measurement.gantryAxis
      ? rack(measurement, gantryAxis, of('squareness').limit, machine)
      : undefined,
    decide(of('squareness'), (squareness) => proposeSquareness(squareness, gantryAxis, machine)),
    tighten('x'),
    tighten('y'),
    rescale('x'),
    rescale('y'),
  ].filter((record) => record !== undefined);
  return inOrder(records.map((record) => refuseStale(record, measurement.fresh)));
}

/** Old marks, beside which fresh ones lie otherwise, say nothing of the machine of today. */
function refuseStale(record: ProposalRecord, fresh: Measurement['fresh']): ProposalRecord {
  if (record.leaveAlone || fresh === undefined || fresh.explainedBy === 'nothing') return record;
  return {
    what: record.what,
    leaveAlone: true,
    why:
      fresh.explainedBy === 'open'
        ? 'whether the old marks still show the machine cannot be told: take more photos of both grids, or measure the fresh marks by themselves'
        : 'the fresh marks do not bear the old ones out: measure the fresh marks by themselves',
  };
}

/**
 * Proposes again from a saved measurement, for another machine file. Where no evidence is given this
 * time, what was withheld because the marks were old stays withheld.
 */
export function proposeAgain(
  saved: Measurement,
  machine: MachineFile | undefined,
  evidence: EvidenceFile | undefined,
): ProposalRecord[] {
  const records = propose(saved, machine, evidence);
  if (evidence !== undefined) return records;
  const withheld = saved.proposals.filter(({ withheld: because }) => because === 'old marks');
  return inOrder(
    records.map((record) => withheld.find(({ what }) => what === record.what) ?? record),
  );
}

/** Why steps per unit were withheld though the scale was measured: old marks, or lengths that contradict each other. */
export function whyScaleWithheld(proposals: readonly ProposalRecord[]): string | undefined {
  return proposals.find(({ withheld }) => withheld !== undefined)?.why;
}

/** Lengths that do not agree leave open which one is wrong, and all of them carry the scale. */
function refuseContradicted(what: string, length: string): ProposalRecord {
  return {
    what,
    leaveAlone: true,
    withheld: 'contradicted',
    why: `the lengths contradict each other (${length}): measure them again before steps per unit are changed`,
  };
}

type Measured = Extract<Limited['quantity'], { value: number }>;

function decide(limited: Limited, change: (quantity: Measured) => ProposalRecord): ProposalRecord {
  const { what, quantity } = limited;
  const record = leaveAlone(what, quantity, limited);
  return record ?? change(quantity as Measured);
}

function rack(
  { racking, placements }: Proposable,
  gantryAxis: 'x' | 'y' | 'none',
  limit: number,
  machine: MachineFile | undefined,
): ProposalRecord | undefined {
  if (gantryAxis === 'none') return undefined;
  const lines = placements[0]?.[gantryAxis === 'y' ? 'linesAtY' : 'linesAtX'] ?? [];
  if (lines.length < 2) return undefined;
  const travelMm = Math.max(...lines) - Math.min(...lines);
  return proposeRacking(racking, gantryAxis, travelMm, limit, machine);
}

function refuseOldMarks(what: string, moved: string): ProposalRecord {
  return {
    what,
    leaveAlone: true,
    withheld: 'old marks',
    why: `${moved}: the board may have grown or shrunk since, and its size would go into the steps per unit; mark fresh lines and photograph them the same day`,
  };
}

/** Changes first, each told what it comes after; what is left alone behind them. */
function inOrder(records: readonly ProposalRecord[]): ProposalRecord[] {
  let previous: string | undefined;
  const changes = records
    .filter((record) => !record.leaveAlone)
    .map(({ after: _, ...record }) => {
      const ordered = previous === undefined ? record : { ...record, after: previous };
      previous = record.what;
      return ordered;
    });
  return [...changes, ...records.filter((record) => record.leaveAlone)];
}
