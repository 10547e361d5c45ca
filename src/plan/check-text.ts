/** What a check found, for people. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import type { Units } from '../report/index.js';
import {
  type Fit,
  type HolePlace,
  type LineSummary,
  ON_LINE_MM,
  type ProgramCheck,
  type Revealed,
} from './check-program.js';

export interface CheckTextOptions {
  readonly name: string;
  readonly marking: 'laser' | 'cutter';
  readonly units: Units;
}

const MOST_LISTED = 8;
const REVEALED: Record<Revealed, string> = { yes: 'shows', no: 'CANNOT', partly: 'PARTLY' };

export function checkText(check: ProgramCheck, { name, marking, units }: CheckTextOptions): string {
  const length = (mm: number) => showLength(mm, units);
  const unit = units;
  const { lines, extent, fit, holes } = check;
  const suspects = holes.filter((hole) => hole.isSuspect);
  const text = [
    `${name}: ${check.strokes} straight marks, ${marking === 'laser' ? 'burnt' : 'cut'}; lengths in ${unit}`,
    '',
    ...(['x', 'y'] as const).map(
      (axis) => `lines at constant ${axis.toUpperCase()}   ${describeLines(lines[axis], length)}`,
    ),
    `other marks           ${check.otherMarks}`,
    ...(extent === undefined
      ? []
      : [
          `marks reach           X ${length(extent.x[0])} to ${length(extent.x[1])}, Y ${length(extent.y[0])} to ${length(extent.y[1])}`,
        ]),
    ...(['x', 'y'] as const).map(
      (axis) => `travel ${axis.toUpperCase()}              ${describeFit(fit[axis], length)}`,
    ),
    ...describeHoles(holes, suspects, length),
    '',
    'This grid, marked and photographed:',
    ...check.reveals.map(
      ({ what, revealed, why }) => `  ${REVEALED[revealed].padEnd(7)} ${what}: ${why}`,
    ),
    '',
    'Look at the picture before anything is cut. A first run goes in air, beam off, with a hand on the stop.',
  ];
  return `${text.join('\n')}\n`;
}

function describeLines(lines: LineSummary | undefined, length: (mm: number) => string): string {
  if (lines === undefined) return 'none that form a grid';
  const [least, most] = lines.spacing;
  const isEven = most - least < 1e-4;
  const spacing = isEven ? `every ${length(least)}` : `${length(least)} to ${length(most)} apart`;
  return `${lines.count}, from ${length(lines.from)} to ${length(lines.to)}, ${spacing}`;
}

function describeFit(fit: Fit | undefined, length: (mm: number) => string): string {
  if (fit === undefined) return 'the program names no place';
  const needed = `${length(fit.neededMm)} needed`;
  if (fit.travelMm === undefined)
    return `${needed}; travel not known: give --travel or a machine file`;
  if (!fit.isInside) {
    return `${needed}, ${length(fit.travelMm)} there: TOO FAR by ${length(fit.neededMm - fit.travelMm)}`;
  }
  const [low, high] = fit.zeroMm!;
  return `${needed}, ${length(fit.travelMm)} there: inside where zero lies ${length(low)} to ${length(high)} from its low end`;
}

function describeHoles(
  holes: readonly HolePlace[],
  suspects: readonly HolePlace[],
  length: (mm: number) => string,
): string[] {
  if (holes.length === 0) return ['holes                 none'];
  const count = (sits: HolePlace['sits']) => holes.filter((hole) => hole.sits === sits).length;
  const listed = suspects.slice(0, MOST_LISTED).map(({ centreMm, offMm, sourceLine }) => {
    const offs = (['X', 'Y'] as const)
      .map((name, axis) => [name, offMm[axis]] as const)
      .filter(([, off]) => off !== undefined && Math.abs(off) > ON_LINE_MM)
      .map(([name, off]) => `${name} ${off! > 0 ? '+' : '−'}${length(Math.abs(off!))}`);
    return `  OFF     hole at X${length(centreMm[0])} Y${length(centreMm[1])} (line ${sourceLine}): ${offs.join(', ')} from the nearest lines`;
  });
  const rest = suspects.length - listed.length;
  return [
    `holes                 ${holes.length}: ${count('node')} on crossings, ${count('line')} on one line, ${count('between')} on none`,
    ...listed,
    ...(rest > 0 ? [`  and ${rest} more`] : []),
  ];
}

function showLength(mm: number, units: Units): string {
  const value = units === 'mm' ? mm : mm / MM_PER_INCH;
  return String(Number(value.toFixed(units === 'mm' ? 3 : 4)) + 0);
}
