/** The machine file. */

import { type MachineFile, machineSchema } from '../../shared/schemas/machine.js';
import { renderSettings } from '../correction/index.js';
import { failed, type Outcome } from '../quantity/index.js';
import { parseYaml, readYamlFile, type YamlKind } from './read-yaml-file.js';

const KIND: YamlKind<MachineFile> = {
  schema: machineSchema,
  code: 'MACHINE_INVALID',
  name: 'machine file',
  prepare: quoteEnds,
};

/**
 * Reads a machine file. The ends of `homing` may be written `-`, `+`, `minus` or `plus`.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; MACHINE_INVALID with every problem and its line.
 */
export async function readMachine(path: string): Promise<Outcome<MachineFile>> {
  return checkFurther(await readYamlFile(path, KIND), path);
}

/** The same from text. */
export async function parseMachine(
  text: string,
  where = 'machine file',
): Promise<Outcome<MachineFile>> {
  return checkFurther(parseYaml(text, where, KIND), where);
}

/** Steps, drives and template must fit each other, which the schema cannot say. */
async function checkFurther(
  outcome: Outcome<MachineFile>,
  where: string,
): Promise<Outcome<MachineFile>> {
  if (!outcome.ok) return outcome;
  const machine = outcome.value;
  const rendered = await renderSettings(machine, []);
  if (!rendered.ok) {
    const { message, hint } = rendered.failure;
    return failed('MACHINE_INVALID', message, { where, ...(hint === undefined ? {} : { hint }) });
  }
  return outcome;
}

/**
 * `homing: { x: -, y: - }`, as people write it, is no YAML: a bare minus begins a list. Minus and
 * words are turned into quoted signs on the lines of `homing` alone.
 */
function quoteEnds(text: string): string {
  let isInside = false;
  return text
    .split('\n')
    .map((line) => {
      if (/^homing\s*:/.test(line)) isInside = true;
      else if (/^\S/.test(line) && !line.startsWith('#')) isInside = false;
      if (!isInside) return line;
      return line.replace(
        /(\b[xy]\s*:\s*)(-|\+|minus|plus)(?=\s*(?:[,}#\r]|$))/gi,
        (_, key: string, end: string) => `${key}'${/^(-|minus)$/i.test(end) ? '-' : '+'}'`,
      );
    })
    .join('\n');
}
