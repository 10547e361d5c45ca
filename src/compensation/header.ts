/** The comment at the head of a compensated program. */

import { COMPENSATED_MARK } from '../program/index.js';
import type { ChosenTerms } from './choose-terms.js';
import type { Point } from './landing-map.js';

export interface HeaderFacts {
  /** Day on which the board was seen. */
  readonly seenOn: string;
  readonly machine: string | undefined;
  /** SHA-256 of the measurement's file, hexadecimal. */
  readonly measurementSha256: string;
  readonly toleranceMm: number;
  readonly zeroMm: Point;
  readonly used: ChosenTerms['used'];
}

/** Digits of the digest that are shown: enough to tell files apart. */
const SHOWN_DIGITS = 16;

/** Puts it at the top, behind an opening % and the program's number. */
export function addHeader(text: string, facts: HeaderFacts): string {
  const parts = text.split(/(\r\n|\n|\r)/);
  const usual = parts[1] ?? '\n';
  let at = 0;
  for (let k = 0; k + 1 < parts.length; k += 2) {
    const line = parts[k]!.replace(/^\ufeff/, '').trim();
    if (line === '') continue;
    if (line !== '%' && !/^o\s*\d+\s*(?:[(;].*)?$/i.test(line)) break;
    at = k + 2;
  }
  const head = parts.slice(0, at).join('');
  return `${head}${describe(facts).join(usual)}${usual}${parts.slice(at).join('')}`;
}

function describe(facts: HeaderFacts): string[] {
  const { seenOn, machine, measurementSha256, toleranceMm, zeroMm, used } = facts;
  const name = machine === undefined ? '' : `, machine ${machine}`;
  return [
    `${COMPENSATED_MARK}: do not compensate again, do not measure with it`,
    `measurement of marks seen on ${seenOn}${name}, SHA-256 ${measurementSha256.slice(0, SHOWN_DIGITS)}`,
    `taken out: ${used.map(({ what }) => what).join(', ')}`,
    `within ${toleranceMm} mm; zero of the program at X${zeroMm[0]} Y${zeroMm[1]} of the grid, mm`,
    'first run above the work, spindle or beam off',
  ].map((line) => `(${plain(line)})`);
}

/** Controllers read plain letters; a bracket would end the comment. */
function plain(line: string): string {
  return line
    .normalize('NFKD')
    .replace(/[()]/g, ' ')
    .replace(/[^\x20-\x7e]/g, '');
}
