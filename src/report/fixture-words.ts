/** What is said of a fixture, at a terminal and in a report alike. */

import type {
  FixtureCauseRecord,
  FixtureCorrection,
  FixtureFeatureRecord,
  FixturePlacementRecord,
  FixturePosition,
  FixtureResult,
} from '../../shared/schemas/fixture.js';
import { fixed, showPlace, showValue, type Units } from './show-number.js';

const DEGREES = 180 / Math.PI;
/** Of belief: less is not listed. */
const LEAST_SHARE = 0.005;
const MOST_CAUSES = 6;
/** By chance less often than this. */
const STANDS_APART = 1e-3;

const WHICH: Record<NonNullable<FixtureResult['cause']>['which'], string> = {
  nothing: 'Nothing is wrong: the features are where they ought to be, within their uncertainties.',
  fixture: 'The fixture: its own pattern is sound, but it sits askew.',
  machine:
    'The machine: the pattern differs from the layout by the machine’s own scale and squareness.',
  board: 'The board: the pattern is stretched, as wood swells or shrinks.',
  'one feature': 'One feature is off; the others agree.',
  'none of these':
    'None of the usual causes: the features scatter without a pattern that machine, board or placement would make.',
  'cannot tell': 'Which it is cannot be told from these features.',
};

const SHAPE_WORDS: Record<FixtureCauseRecord['shape'], string> = {
  'as the machine goes': 'as this machine goes',
  true: 'true, so that the machine’s errors show',
  'machine error doubled': 'the machine’s errors twice',
  stretched: 'stretched (two scales)',
  'one feature off': 'off',
  'none of these': 'none of these',
};

export function fixtureName({ layout }: Pick<FixtureResult, 'layout'>): string {
  return layout.name ?? layout.file;
}

/** The result in one sentence: which it is, and what that means for the tolerances. */
export function fixtureVerdict(result: FixtureResult): string {
  return `${fixtureName(result)}: ${whichClause(result)}; ${toleranceClause(result)}.`;
}

function whichClause({ cause }: FixtureResult): string {
  if (cause === undefined) return 'too few features were found to tell a cause';
  if (cause.feature !== undefined) return `${cause.feature} is off, the others agree`;
  return CLAUSE[cause.which];
}

const CLAUSE: typeof WHICH = {
  nothing: 'the features are where they ought to be, within their uncertainties',
  fixture: 'its pattern is sound, but it sits askew',
  machine: 'its pattern differs from the layout by the machine’s own scale and squareness',
  board: 'its pattern is stretched, as wood swells or shrinks',
  'one feature': 'one feature is off, the others agree',
  'none of these': 'its features scatter as no usual cause would make them',
  'cannot tell': 'whether machine, board or fixture is off cannot be told',
};

/** More are counted, not named. */
const MOST_NAMED = 4;

function toleranceClause({ features }: FixtureResult): string {
  const named = (verdict: FixturePosition['verdict']) =>
    features.filter((one) => leftOf(one)?.verdict === verdict).map(({ name }) => name);
  const [outside, open, inside] = [named('outside'), named('cannot tell'), named('inside')];
  const unseen = features.filter(({ state }) => state !== 'found').map(({ name }) => name);
  const parts: string[] = [];
  if (outside.length > 0) {
    parts.push(
      outside.length === 1
        ? `${outside[0]} is outside its tolerance`
        : `${joined(outside)} are outside their tolerances`,
    );
  }
  if (open.length > 0) parts.push(`for ${joined(open)} it cannot be told`);
  if (parts.length === 0) {
    parts.push(
      inside.length === 0
        ? 'no tolerance was judged'
        : unseen.length === 0
          ? 'every feature with a tolerance is inside it'
          : 'what was measured is inside its tolerance',
    );
  }
  if (unseen.length > 0) {
    parts.push(`${joined(unseen)} ${unseen.length === 1 ? 'was' : 'were'} not measured`);
  }
  return parts.join('; ');
}

function joined(names: readonly string[]): string {
  if (names.length > MOST_NAMED) return `${names.length} features`;
  const last = names[names.length - 1]!;
  return names.length === 1 ? last : `${names.slice(0, -1).join(', ')} and ${last}`;
}

/** How much was measured, and in what. */
export function fixtureHeadline(result: FixtureResult): string {
  const { features, photos, points } = result;
  const found = features.filter(({ state }) => state === 'found').length;
  const used = photos.filter((one) => one.used).length;
  const from =
    points === undefined
      ? `in ${used} ${used === 1 ? 'photo' : 'photos'}`
      : `from ${points.file} (${points.frame === 'machine' ? 'machine coordinates' : 'true millimetres'})`;
  return `${fixtureName(result)}: ${found} of ${features.length} features measured ${from}`;
}

/** Sentences on which of machine, board and fixture it is; none where nothing could be weighed. */
export function causeTexts({ cause }: Pick<FixtureResult, 'cause'>, units: Units): string[] {
  if (cause === undefined) return [];
  const { which, shape, placement, feature, stretch } = cause;
  const parts = [
    feature === undefined ? WHICH[which] : `One feature is off, ${feature}; the others agree.`,
  ];
  if (shape.between !== undefined) {
    parts.push(`The pattern lies between: ${shape.between.join('; ')}.`);
  }
  if (stretch !== undefined) {
    const slope = (one: typeof stretch.x) => showValue('slope', one.value, one.U, units).withU;
    parts.push(
      `Stretch ${slope(stretch.x)} along X, ${slope(stretch.y)} along Y (+ longer than drawn).`,
    );
  }
  if (placement.named !== undefined && which !== 'nothing') {
    parts.push(
      placement.named === 'as nominal' ? 'It sits where it ought to.' : `It is ${placement.named}.`,
    );
  } else if (placement.between !== undefined) {
    parts.push(`Its place lies between: ${placement.between.join('; ')}.`);
  }
  return parts;
}

export interface PlacementText {
  readonly offset: string;
  readonly turn: string;
  /** Where the features fit worse than they should. */
  readonly widened?: string;
}

export function placementText(one: FixturePlacementRecord, units: Units): PlacementText {
  const { offset, at, rotation, overLength, widened } = one;
  const place = `(${showPlace(at.x, units)}, ${showPlace(at.y, units)})`;
  const sense = rotation.value >= 0 ? 'anticlockwise' : 'clockwise';
  const turn =
    overLength.length > 0
      ? `${showLength(Math.abs(overLength.value), overLength.U, units)} over its ${showPlace(overLength.length, units)} along ${overLength.along.toUpperCase()}`
      : showValue('slope', Math.abs(rotation.value), rotation.U, units).withU;
  return {
    offset: `X ${showLength(offset.x.value, offset.x.U, units)}, Y ${showLength(offset.y.value, offset.y.U, units)} at ${place}`,
    turn: `${degrees(Math.abs(rotation.value) * DEGREES, rotation.U * DEGREES)} ${sense}, ${turn}`,
    ...(widened === undefined || widened < WORTH_SAYING
      ? {}
      : {
          widened: `the features fit ${fixed(widened, 1)} times worse than they should, and U is wider for it`,
        }),
  };
}

const WORTH_SAYING = 1.5;

/** In which millimetres a placement on the board is told. */
export function boardMillimetres({ machine }: Pick<FixtureResult, 'machine'>): string {
  return machine.scaleKnown ? 'true millimetres' : 'the board’s own millimetres (no known length)';
}

/** Ways to put it right, of which one will do. */
export function correctionTexts(correction: FixtureCorrection, units: Units): string[] {
  const { workOffset, rotationDegrees, offsetAlone, shim } = correction;
  const isTurned = Math.abs(rotationDegrees.value) > rotationDegrees.U;
  const lines: string[] = [];
  if (shim !== undefined) {
    lines.push(
      `mechanically: bring the ${shim.end} end ${showLength(shim.thickness, shim.U, units)} toward ${shim.toward} (a shim of that thickness behind that end, where the fixture leans on a fence); it then still lies off by X ${signedLength(shim.offsetLeft.x, units)}, Y ${signedLength(shim.offsetLeft.y, units)} ${units}: move it back, or the work offset by as much`,
    );
  }
  const alone = `work offset moved by X ${showLength(offsetAlone.x, workOffset.x.U, units)}, Y ${showLength(offsetAlone.y, workOffset.y.U, units)}`;
  if (!isTurned) return [`in the program: ${alone}; it is not turned beyond what is known`];
  lines.push(
    `${shim === undefined ? '' : 'or '}in the program: work offset moved by X ${showLength(workOffset.x.value, workOffset.x.U, units)}, Y ${showLength(workOffset.y.value, workOffset.y.U, units)}, with a coordinate rotation of ${degrees(rotationDegrees.value, rotationDegrees.U)} about that zero (+ anticlockwise)`,
    `where no rotation can be set: ${alone}`,
  );
  return lines;
}

/** What to do about the one feature that is off; undefined where there is none. */
export function culpritText(
  { cause, features }: Pick<FixtureResult, 'cause' | 'features'>,
  units: Units,
): string | undefined {
  const culprit = features.find(({ name }) => name === cause?.feature);
  const left = culprit === undefined ? undefined : leftOf(culprit);
  if (culprit === undefined || left === undefined) return undefined;
  const { dx, dy, deviation } = left;
  return `${culprit.name} lies X ${signedLength(dx, units)}, Y ${signedLength(dy, units)} ${units} from where the others put it (position deviation ${showLength(deviation.value, deviation.U, units)}): move it back, or correct its place in the layout if it was drawn wrong, and look again`;
}

/** What this machine will miss a feature by after the best offset and turn; without a fit, as it lies. */
export function leftOf({
  asUsed,
  asPlaced,
}: Pick<FixtureFeatureRecord, 'asUsed' | 'asPlaced'>): FixturePosition | undefined {
  return asUsed ?? asPlaced;
}

/** Whether the others leave little doubt that it is not where they say. */
export function standsApart({ apart }: FixtureFeatureRecord): boolean {
  return apart !== undefined && apart.probability < STANDS_APART;
}

/** Likeliest first; what has next to no belief is left out. */
export function shownCauses({
  causes,
}: Pick<FixtureResult, 'causes'>): readonly FixtureCauseRecord[] {
  return causes.filter(({ share }, i) => i < MOST_CAUSES && (i < 2 || share >= LEAST_SHARE));
}

export function causeName(one: FixtureCauseRecord): string {
  if (one.shape === 'none of these') return 'none of these';
  return one.feature === undefined
    ? `pattern ${SHAPE_WORDS[one.shape]}`
    : `${one.feature} ${SHAPE_WORDS[one.shape]}`;
}

export function shareText(share: number): string {
  return `${fixed(100 * share, share < 0.1 ? 1 : 0)} %`;
}

/** A length as it was found, to micrometres. */
export function signedLength(valueMm: number, units: Units): string {
  const shown = units === 'mm' ? fixed(valueMm, 3) : fixed(valueMm / 25.4, 4);
  return `${valueMm >= 0 ? '+' : ''}${shown}`;
}

export function showTolerance(lengthMm: number, units: Units): string {
  return units === 'mm'
    ? `${Number(lengthMm.toPrecision(4))} mm`
    : `${fixed(lengthMm / 25.4, 4)} in`;
}

function showLength(value: number, U: number, units: Units): string {
  return showValue('length', value, U, units).withU;
}

function degrees(value: number, U: number): string {
  const decimals = Math.min(6, Math.max(2, 1 - Math.floor(Math.log10(U > 0 ? U : 1e-3))));
  return `${fixed(value, decimals)} ± ${fixed(U, decimals)}°`;
}
