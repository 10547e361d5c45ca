/** Sizes in options: `900x600`, `14x4`, one length; in the units shown. */

import { MM_PER_INCH } from '../shared/mm-per-inch.js';
import type { MachineFile } from '../shared/schemas/machine.js';
import { failed, type Outcome, success, type Units } from '../src/index.js';

const NUMBER = String.raw`(\d+(?:\.\d*)?|\.\d+)`;
const PAIR = new RegExp(String.raw`^\s*${NUMBER}\s*[x×]\s*${NUMBER}\s*$`, 'i');
const ONE = new RegExp(String.raw`^\s*${NUMBER}\s*$`);

/** Two lengths above 0, mm. Fails: WRONG_CALL. */
export function parsePair(option: string, text: string, units: Units): Outcome<[number, number]> {
  const match = PAIR.exec(text);
  const values = match?.slice(1).map((part) => Number(part) * perUnit(units));
  if (values === undefined || !values.every((value) => value > 0)) {
    return refuse(
      option,
      text,
      `two lengths in ${nameOf(units)}, such as ${units === 'mm' ? '900x600' : '36x24'}`,
    );
  }
  return success([values[0]!, values[1]!]);
}

/** Travel along X and Y: of the option, else of the machine file; undefined without both. Fails: WRONG_CALL. */
export function chooseTravel(
  options: { readonly travel?: string; readonly units: Units },
  machine: MachineFile | undefined,
): Outcome<readonly [number, number] | undefined> {
  if (options.travel !== undefined) return parsePair('--travel', options.travel, options.units);
  return success(machine?.travel && [machine.travel.x, machine.travel.y]);
}

/** One length above 0, mm. Fails: WRONG_CALL. */
export function parseLength(option: string, text: string, units: Units): Outcome<number> {
  const match = ONE.exec(text);
  const value = match === null ? 0 : Number(match[1]) * perUnit(units);
  return value > 0 ? success(value) : refuse(option, text, `a length in ${nameOf(units)} above 0`);
}

function perUnit(units: Units): number {
  return units === 'mm' ? 1 : MM_PER_INCH;
}

function nameOf(units: Units): string {
  return units === 'mm' ? 'mm' : 'inches';
}

function refuse(option: string, text: string, expected: string): ReturnType<typeof failed> {
  return failed('WRONG_CALL', `${option}: expected ${expected}, found "${text}"`, {
    hint: 'correct the option; --units says whether lengths are mm or inches',
  });
}
