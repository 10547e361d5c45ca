/** Two measurements of one machine: what changed, and whether that is what was proposed. */

import {
  COMPARED_QUANTITIES,
  COMPARISON_SCHEMA_ID,
  type Compared,
  type ComparedName,
  type Comparison,
} from '../../shared/schemas/comparison.js';
import type { Measurement } from '../../shared/schemas/measurement.js';
import { type Finding, failed, type Outcome, quantitiesByKey, success } from '../quantity/index.js';
import { commonInfluences } from './common-influence.js';
import { areMachinesDifferent, doubtComparison } from './doubt-comparison.js';
import { judgeChange } from './judge-change.js';
import { proposedChange } from './proposed-change.js';

export interface MeasurementFile {
  readonly file: string;
  readonly measurement: Measurement;
}

/**
 * Compares every quantity: after minus before, against no change and against what `before` proposed.
 *
 * @param isForced compares although names or dates speak against it.
 * Fails: NOT_COMPARABLE.
 */
export function compareMeasurements(
  before: MeasurementFile,
  after: MeasurementFile,
  isForced = false,
): Outcome<Comparison> {
  const [first, second] = [before.measurement, after.measurement];
  if (!isForced && areMachinesDifferent(first, second)) {
    return failed(
      'NOT_COMPARABLE',
      `the measurements are of different machines: “${first.machine}” and “${second.machine}”`,
      {
        where: after.file,
        hint: 'give two measurements of one machine, or --force where it only changed its name',
      },
    );
  }
  const { findings, open } = doubtComparison(first, second, isForced);
  const quantities = COMPARED_QUANTITIES.filter((what) => isAsked(what, first, second)).map(
    (what) => compareOne(first, second, what, open(what)),
  );
  return success({
    schema: COMPARISON_SCHEMA_ID,
    before: describe(before),
    after: describe(after),
    quantities,
    findings: [...findings, ...doubtStandstill(quantities)],
  });
}

/** Without a gantry nobody asks for its yaw. */
function isAsked(what: ComparedName, before: Measurement, after: Measurement): boolean {
  return what !== 'racking' || before.gantryAxis !== 'none' || after.gantryAxis !== 'none';
}

function compareOne(
  before: Measurement,
  after: Measurement,
  what: ComparedName,
  open: string | undefined,
): Compared {
  const [first, second] = [quantitiesByKey(before)[what], quantitiesByKey(after)[what]];
  const verdict = after.verdicts.find((one) => one.what === what);
  const common = commonInfluences(before, after, what);
  return {
    what,
    before: first,
    after: second,
    ...judgeChange(first, second, proposedChange(before, what), open),
    ...(verdict === undefined
      ? {}
      : { limit: { limit: verdict.limit, unit: verdict.unit, verdict: verdict.verdict } }),
    ...(common.length === 0 ? {} : { common }),
  };
}

function describe({ file, measurement }: MeasurementFile): Comparison['before'] {
  const { measuredAt, machine } = measurement;
  return { file, measuredAt, ...(machine === undefined ? {} : { machine }) };
}

/** Corrections that all show nothing: they were not made, or are not in these marks. */
function doubtStandstill(quantities: readonly Compared[]): Finding[] {
  const proposed = quantities.filter((one) => one.proposed !== undefined);
  const isStill = proposed.every(({ verdict }) => verdict === 'no change beyond U');
  if (proposed.length === 0 || !isStill) return [];
  return [
    {
      code: 'NOTHING_MOVED',
      message: 'of all that was proposed nothing moved',
      hint: 'were the old marks photographed again? They cannot show a correction: mark fresh lines; else it was not carried out, or the controller did not take it over',
    },
  ];
}
