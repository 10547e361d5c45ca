/** Taped lengths, rules and square checks as the adjustment takes them. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import type { EvidenceFile, RULE_CLASSES, TAPE_CLASSES } from '../../shared/schemas/evidence.js';
import type { NetworkEvidence, RuleInPicture } from '../network/index.js';
import { type Finding, failed, type Outcome, success } from '../quantity/index.js';
import type { KnownLength } from './survey-request.js';
import { boardSwell, type Stretch, standardStretch } from './thermal-expansion.js';
import { RECTANGULAR } from './widen-quantity.js';

type TapeClass = (typeof TAPE_CLASSES)[number];
type RuleClass = (typeof RULE_CLASSES)[number];

/**
 * Maximum permissible error of a tape between two lines: a + b L, L in metres rounded up to the next
 * whole one. Source: Directive 2014/32/EU, annex X (MI-008), chapter I.
 */
const PERMISSIBLE_MM: Record<TapeClass, { readonly a: number; readonly b: number }> = {
  I: { a: 0.1, b: 0.1 },
  II: { a: 0.3, b: 0.2 },
  III: { a: 0.6, b: 0.4 },
};
/**
 * Permissible deviation of steel rules, µm: a + b L, L in mm. Source: DIN 866, forms A and B (values from memory).
 */
const RULE_PERMISSIBLE_UM = { A: { a: 20, b: 1 / 50 }, B: { a: 50, b: 1 / 20 } } as const;
/** Unmarked tapes and rules are taken for the poorest class. */
const UNKNOWN_CLASS: TapeClass = 'III';
/** Reading a graduation of 1 mm by eye at both ends, mm. Common practice, no source. */
const USUAL_READING_MM = 0.3;
/** A pixel that somebody read from the picture, each way. */
const USUAL_SIGMA_PX = 1;
/** Steel rules of workshops are 0.5 to 1.5 mm thick. Common practice, no source. */
const USUAL_RULE_MM = 1;
const USUAL_RULE_U_MM = 0.5 / RECTANGULAR;
/** A rule of known thickness on a board that is not quite flat. Common practice, no source. */
const STATED_HEIGHT_U_MM = 0.1;
/** A ratio this close to 25.4 or its inverse is a mix of units, not a machine. */
const UNIT_MIX_TOLERANCE = 0.05;
/** No machine that still marks a grid is further off than this: such a length is misread. */
const IMPLAUSIBLE_SCALE = 0.02;

/** Largest deviation that a tape of this class may show over a length, mm. */
export function permissibleTapeError(tapeClass: TapeClass, lengthMm: number): number {
  const { a, b } = PERMISSIBLE_MM[tapeClass];
  return a + b * Math.ceil(lengthMm / 1000 - 1e-9);
}

/** A rule in a picture, its graduations still in pixels as people count them. */
export type StatedRule = Omit<RuleInPicture, 'photo' | 'fromPx' | 'toPx'> & {
  /** File name of the photo. */
  readonly photoName: string;
  /** Pixels of the upright picture from its top left corner. */
  readonly fromShown: readonly [column: number, row: number];
  readonly toShown: readonly [column: number, row: number];
};

export interface BuiltEvidence {
  readonly evidence: NetworkEvidence[];
  readonly rules: StatedRule[];
  /** Of the board from marking to photographing; lengths stand in the evidence as they were at marking. */
  readonly swell: Stretch;
  /** True length over length read by what measured nodes on the board, at marking. */
  readonly instrument: Stretch;
  readonly findings: Finding[];
}

/**
 * @param boardMaterial in the owner's words.
 * Fails: UNITS_SUSPECT; EVIDENCE_INVALID.
 */
export function buildEvidence(
  known: readonly KnownLength[],
  file: EvidenceFile | undefined,
  boardMaterial: string | undefined,
): Outcome<BuiltEvidence> {
  const swell = boardSwell(boardMaterial, file?.marked?.temperature, file?.temperature);
  const atMarking = ({ factor }: Stretch) => ({ trueOverRead: factor / swell.factor });
  const unit = file?.units === 'in' ? MM_PER_INCH : 1;
  const evidence: NetworkEvidence[] = known.map(({ fromMm, toMm, lengthMm, uMm }) => ({
    kind: 'length',
    what: nameLength(fromMm, toMm),
    fromMm,
    toMm,
    lengthMm,
    uMm,
    tapeScaleU: 0,
    // A stated uncertainty stands for all that was doubtful when the length was read.
    ...atMarking(AS_READ),
  }));
  const lengths = file?.lengths ?? [];
  const longest = Math.max(0, ...lengths.map(({ length }) => length * unit));
  const tapeClass = file?.tape?.class ?? UNKNOWN_CLASS;
  // Rectangular distribution over the permissible error (GUM 4.3.7); one tape, one scale for all.
  const tape = standardStretch(file?.tape?.material, file?.tape?.temperature, file?.temperature);
  const tapeScaleU = Math.hypot(
    permissibleTapeError(tapeClass, longest) / RECTANGULAR / longest,
    tape.u,
  );
  const reading = (file?.tape?.reading ?? USUAL_READING_MM / unit) * unit;
  for (const { from, to, length, u } of lengths) {
    const fromMm = [from[0] * unit, from[1] * unit] as const;
    const toMm = [to[0] * unit, to[1] * unit] as const;
    evidence.push({
      kind: 'length',
      what: nameLength(fromMm, toMm),
      fromMm,
      toMm,
      lengthMm: length * unit,
      uMm: u === undefined ? reading : u * unit,
      tapeScaleU: u === undefined ? tapeScaleU : 0,
      ...atMarking(u === undefined ? tape : AS_READ),
    });
  }
  const square = file?.squareCheck;
  if (square !== undefined) {
    // Both ways round, a drift toward + of the leg's axis closes the angle between the axes.
    evidence.push({
      kind: 'square',
      what: `square along ${square.along.toUpperCase()}, run ${square.run * unit} mm`,
      squarenessRad: square.deviation / square.run,
      uRad: square.u / square.run,
    });
  }
  const findings: Finding[] = [];
  for (const item of evidence) {
    if (item.kind !== 'length') continue;
    const { fromMm, toMm, lengthMm, what } = item;
    const commandedMm = Math.hypot(toMm[0] - fromMm[0], toMm[1] - fromMm[1]);
    if (!(commandedMm > 0)) {
      return failed('EVIDENCE_INVALID', 'both ends are the same crossing', {
        where: what,
        hint: 'name two different crossings of the grid',
      });
    }
    const checked = checkLength(what, 'taped', lengthMm, commandedMm);
    if (!checked.ok) return checked;
    findings.push(...checked.value);
  }
  const rules = (file?.rules ?? []).map((rule): StatedRule => {
    const stretch = standardStretch(rule.material, rule.temperature, file?.temperature);
    const lengthMm = rule.length * unit;
    const classU = rule.u === undefined ? ruleScaleU(rule.class ?? UNKNOWN_CLASS, lengthMm) : 0;
    return {
      kind: 'rule',
      what: `rule in ${rule.photo}, ${round(lengthMm)} mm from (${rule.from}) to (${rule.to}) px`,
      photoName: rule.photo,
      fromShown: rule.from,
      toShown: rule.to,
      sigmaPx: rule.sigma ?? USUAL_SIGMA_PX,
      lengthMm,
      uMm: (rule.u ?? 0) * unit,
      heightMm: rule.height === undefined ? USUAL_RULE_MM : rule.height * unit,
      heightUMm: rule.height === undefined ? USUAL_RULE_U_MM : STATED_HEIGHT_U_MM,
      // However well it was divided, its temperature moves it.
      ruleScaleU: Math.hypot(classU, stretch.u),
      ...atMarking(stretch),
    };
  });
  const measured = standardStretch(
    file?.points?.material,
    file?.points?.temperature,
    file?.temperature,
  );
  const instrument = { factor: measured.factor / swell.factor, u: measured.u };
  return success({ evidence, rules, swell, instrument, findings });
}

const AS_READ: Stretch = { factor: 1, u: 0 };

function ruleScaleU(ruleClass: RuleClass, lengthMm: number): number {
  if (ruleClass === 'A' || ruleClass === 'B') {
    const { a, b } = RULE_PERMISSIBLE_UM[ruleClass];
    return (a + b * lengthMm) / 1000 / RECTANGULAR / lengthMm;
  }
  return permissibleTapeError(ruleClass, lengthMm) / RECTANGULAR / lengthMm;
}

/**
 * Whether a stated length can be that of the places it joins.
 *
 * @param how the length was had, in a word.
 * Fails: UNITS_SUSPECT.
 */
export function checkLength(
  what: string,
  how: string,
  lengthMm: number,
  commanded: number,
): Outcome<Finding[]> {
  const ratio = lengthMm / commanded;
  for (const mix of [MM_PER_INCH, 1 / MM_PER_INCH]) {
    if (Math.abs(ratio / mix - 1) > UNIT_MIX_TOLERANCE) continue;
    return failed(
      'UNITS_SUSPECT',
      `${round(lengthMm)} mm ${how} where ${commanded.toFixed(3)} mm were commanded, a ratio of ${ratio.toFixed(4)}: mm and inch are mixed`,
      {
        where: what,
        hint: 'give lengths in mm, or say `--units in` (command line) or `units: in` (evidence file); check G20 or G21 in the program',
        figures: { ratio },
      },
    );
  }
  if (Math.abs(ratio - 1) <= IMPLAUSIBLE_SCALE) return success([]);
  return success([
    {
      code: 'LENGTH_IMPLAUSIBLE',
      message: `${round(lengthMm)} mm ${how}, ${commanded.toFixed(3)} mm commanded: ${((ratio - 1) * 100).toFixed(1)} % apart`,
      hint: 'check the reading, and which crossings it joins',
      where: what,
    },
  ]);
}

function nameLength(from: readonly number[], to: readonly number[]): string {
  const at = (p: readonly number[]) => `(${round(p[0])}, ${round(p[1])})`;
  return `length ${at(from)} to ${at(to)}`;
}

function round(value: number): number {
  return Math.round(value * 1000) / 1000;
}
