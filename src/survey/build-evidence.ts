/** Taped lengths and square checks as the adjustment takes them. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import type { EvidenceFile, TAPE_CLASSES } from '../../shared/schemas/evidence.js';
import type { NetworkEvidence } from '../network/index.js';
import { type Finding, failed, type Outcome, success } from '../quantity/index.js';
import type { KnownLength } from './survey-request.js';

type TapeClass = (typeof TAPE_CLASSES)[number];

/**
 * Maximum permissible error of a tape between two lines: a + b L, L in metres rounded up to the next
 * whole one. Source: Directive 2014/32/EU, annex X (MI-008), chapter I.
 */
const PERMISSIBLE_MM: Record<TapeClass, { readonly a: number; readonly b: number }> = {
  I: { a: 0.1, b: 0.1 },
  II: { a: 0.3, b: 0.2 },
  III: { a: 0.6, b: 0.4 },
};
/** Unmarked tapes are taken for the poorest class. */
const UNKNOWN_CLASS: TapeClass = 'III';
/** Reading a graduation of 1 mm by eye at both ends, mm. Common practice, no source. */
const USUAL_READING_MM = 0.3;
/** A ratio this close to 25.4 or its inverse is a mix of units, not a machine. */
const UNIT_MIX_TOLERANCE = 0.05;
/** No machine that still marks a grid is further off than this: such a length is misread. */
const IMPLAUSIBLE_SCALE = 0.02;

/** Largest deviation that a tape of this class may show over a length, mm. */
export function permissibleTapeError(tapeClass: TapeClass, lengthMm: number): number {
  const { a, b } = PERMISSIBLE_MM[tapeClass];
  return a + b * Math.ceil(lengthMm / 1000 - 1e-9);
}

/** Fails: UNITS_SUSPECT; EVIDENCE_INVALID. */
export function buildEvidence(
  known: readonly KnownLength[],
  file: EvidenceFile | undefined,
): Outcome<{ evidence: NetworkEvidence[]; findings: Finding[] }> {
  const unit = file?.units === 'in' ? MM_PER_INCH : 1;
  const evidence: NetworkEvidence[] = known.map(({ fromMm, toMm, lengthMm, uMm }) => ({
    kind: 'length',
    what: nameLength(fromMm, toMm),
    fromMm,
    toMm,
    lengthMm,
    uMm,
    tapeScaleU: 0,
  }));
  const lengths = file?.lengths ?? [];
  const longest = Math.max(0, ...lengths.map(({ length }) => length * unit));
  const tapeClass = file?.tape?.class ?? UNKNOWN_CLASS;
  // Rectangular distribution over the permissible error (GUM 4.3.7); one tape, one scale for all.
  const tapeScaleU = permissibleTapeError(tapeClass, longest) / Math.sqrt(3) / longest;
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
  if ((file?.rules ?? []).length > 0) {
    findings.push({
      code: 'EVIDENCE_NOT_USED',
      message: 'rules lying in the picture are not used yet',
      hint: 'give a length taped between two crossings instead',
    });
  }
  for (const item of evidence) {
    if (item.kind !== 'length') continue;
    const checked = checkLength(item);
    if (!checked.ok) return checked;
    findings.push(...checked.value);
  }
  return success({ evidence, findings });
}

function checkLength(item: Extract<NetworkEvidence, { kind: 'length' }>): Outcome<Finding[]> {
  const commanded = Math.hypot(item.toMm[0] - item.fromMm[0], item.toMm[1] - item.fromMm[1]);
  if (!(commanded > 0)) {
    return failed('EVIDENCE_INVALID', 'both ends are the same crossing', {
      where: item.what,
      hint: 'name two different crossings of the grid',
    });
  }
  const ratio = item.lengthMm / commanded;
  for (const mix of [MM_PER_INCH, 1 / MM_PER_INCH]) {
    if (Math.abs(ratio / mix - 1) > UNIT_MIX_TOLERANCE) continue;
    return failed(
      'UNITS_SUSPECT',
      `${item.lengthMm} mm taped where ${commanded.toFixed(3)} mm were commanded, a ratio of ${ratio.toFixed(4)}: mm and inch are mixed`,
      {
        where: item.what,
        hint: 'give lengths in mm, or say `--units in` (command line) or `units: in` (evidence file); check G20 or G21 in the program',
        figures: { ratio },
      },
    );
  }
  if (Math.abs(ratio - 1) <= IMPLAUSIBLE_SCALE) return success([]);
  return success([
    {
      code: 'LENGTH_IMPLAUSIBLE',
      message: `${item.lengthMm} mm taped, ${commanded.toFixed(3)} mm commanded: ${((ratio - 1) * 100).toFixed(1)} % apart`,
      hint: 'check the reading, and which crossings it joins',
      where: item.what,
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
