/** Proposals in the shop's own settings form, for the terminal. */

import type { MachineFile } from '../shared/schemas/machine.js';
import type { ProposalRecord } from '../shared/schemas/measurement.js';
import { type Outcome, renderSettings, success } from '../src/index.js';

/** Empty where the machine file has no template. Fails: MACHINE_INVALID. */
export async function settingsText(
  machine: MachineFile | undefined,
  proposals: readonly ProposalRecord[],
): Promise<Outcome<string>> {
  // Settings that stay as they are need no printing.
  const changes = proposals.some((proposal) => !proposal.leaveAlone);
  if (machine === undefined || !changes) return success('');
  const rendered = await renderSettings(machine, proposals);
  if (!rendered.ok) return rendered;
  if (rendered.value === undefined) return success('');
  const { text, leftOut } = rendered.value;
  const lines = [
    '',
    'Settings, for when its turn has come:',
    ...text.split('\n').map((line) => `  ${line}`),
    ...leftOut.map(({ line, why }) => `  (left out: ${line.trim()}: ${why})`),
  ];
  return success(`${lines.join('\n')}\n`);
}
