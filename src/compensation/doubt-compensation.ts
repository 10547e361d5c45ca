/** What a compensated program leaves in doubt, and what is to be known before it is run. */

import { doubtGantryAxis, doubtName } from '../correction/index.js';
import type { ProgramTrace } from '../program/index.js';
import type { Finding } from '../quantity/index.js';
import { datumOf, pathOf } from './check-result.js';
import type { LandingTerms } from './choose-terms.js';
import type { CompensateRequest } from './compensate.js';
import type { LandingMap, Point } from './landing-map.js';
import { seenOn } from './seen-on.js';

/** Doubts that do not stop a compensation. */
export function doubtCompensation(
  { name, measurement, machine, zeroMm }: CompensateRequest,
  { lines, hasFlow }: ProgramTrace,
  terms: LandingTerms,
  map: LandingMap,
): Finding[] {
  const findings: Finding[] = [];
  if (hasFlow) {
    findings.push({
      code: 'PROGRAM_EXPANDED',
      message: 'loops, branches and subprograms were written out: each pass lands elsewhere',
      hint: 'change the original and compensate it again, not this one',
      where: name,
    });
  }
  const beyond = map.varies ? findBeyond(lines, map, zeroMm) : [];
  if (beyond.length > 0) {
    findings.push({
      code: 'COMPENSATION_BEYOND_GRID',
      message: `the program goes beyond the grid that was measured (X ${map.knownX.join(' to ')}, Y ${map.knownY.join(' to ')} mm): from line ${beyond[0]} on ${beyond.length} moves end there; tables and bends are held at the grid's edge, scale and squareness go on`,
      hint: 'measure a grid that covers the part',
      where: name,
    });
  }
  findings.push(...doubtName(measurement.machine, machine?.name));
  if (terms.gantryAxis !== 'none' && terms.yaw.length > 0) {
    findings.push(...doubtGantryAxis(terms.gantryAxis, machine?.gantryAxis));
  }
  return findings;
}

/** Tools reach a little beyond the outermost lines at no harm, mm. */
const BEYOND_MM = 0.5;

function findBeyond(lines: ProgramTrace['lines'], map: LandingMap, zeroMm: Point): number[] {
  const datum = datumOf(lines)!;
  const found: number[] = [];
  for (const { index, motion } of pathOf(lines)) {
    const x = motion.to[0]! - datum.offsetX + zeroMm[0];
    const y = motion.to[1]! - datum.offsetY + zeroMm[1];
    const isBeyond = (value: number, [from, to]: readonly [number, number]) =>
      value < from - BEYOND_MM || value > to + BEYOND_MM;
    if (isBeyond(x, map.knownX) || isBeyond(y, map.knownY)) found.push(index + 1);
  }
  return found;
}

/** What is to be known before the program is run. */
export function cautionsFor({ measurement, zeroMm }: CompensateRequest): string[] {
  const place =
    zeroMm[0] === 0 && zeroMm[1] === 0
      ? 'at the zero of the program that marked the grid'
      : `at X${zeroMm[0]} Y${zeroMm[1]} mm of the program that marked the grid`;
  return [
    `the program's zero was taken to lie ${place}: set the work offset there, else say --origin`,
    `what was corrected on the machine or in its settings since the board was marked (seen on ${seenOn(measurement)}) cannot be known here, and would be corrected twice: then measure again first`,
    'lost motion stays: it is taken out of the machine, not of the path',
    'first run above the work with spindle or beam off and a hand on the stop; the manual of the machine comes first',
  ];
}
