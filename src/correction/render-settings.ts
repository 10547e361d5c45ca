/** Proposals in the form in which the shop's controller writes its settings. */

import type { MachineFile } from '../../shared/schemas/machine.js';
import type { ProposalRecord } from '../../shared/schemas/measurement.js';
import { failed, type Outcome, success } from '../quantity/index.js';

/** What stands between double braces, and what it becomes. */
export const PLACEHOLDERS = {
  'x.stepsPerMm': 'steps per mm of X: the proposed ones, else those of the machine file',
  'y.stepsPerMm': 'steps per mm of Y: the proposed ones, else those of the machine file',
  'x.lostMotion': 'lost motion of X to take out, mm',
  'y.lostMotion': 'lost motion of Y to take out, mm',
  'squareness.offset':
    'way of the gantry’s + side toward the − end of its travel, mm; below 0 the other way',
} as const;

type Placeholder = keyof typeof PLACEHOLDERS;

export interface RenderedSettings {
  /** The template's lines with their values filled in. */
  readonly text: string;
  /** Lines left out because a value of theirs is not known, each with the reason. */
  readonly leftOut: readonly { readonly line: string; readonly why: string }[];
}

/**
 * Fills in the machine file's template; undefined where it has none. A line whose value is neither
 * proposed nor known is left out, never filled with a zero.
 *
 * Fails: MACHINE_INVALID for a placeholder that does not exist.
 */
export function renderSettings(
  machine: MachineFile,
  proposals: readonly ProposalRecord[],
): Outcome<RenderedSettings | undefined> {
  if (machine.settings === undefined) return success(undefined);
  const unknown = findUnknown(machine.settings);
  if (unknown.length > 0) {
    return failed(
      'MACHINE_INVALID',
      `settings: unknown ${unknown.map((name) => `{{${name}}}`).join(', ')}`,
      {
        hint: `known are ${Object.keys(PLACEHOLDERS)
          .map((name) => `{{${name}}}`)
          .join(', ')}`,
      },
    );
  }
  const lines: string[] = [];
  const leftOut: RenderedSettings['leftOut'][number][] = [];
  for (const line of machine.settings.replace(/\n+$/, '').split('\n')) {
    const missing: string[] = [];
    const filled = line.replace(PATTERN, (_, name: string) => {
      const value = findValue(name as Placeholder, machine, proposals);
      if (value === undefined) missing.push(name);
      return value ?? '';
    });
    if (missing.length === 0) lines.push(filled);
    else leftOut.push({ line, why: `nothing is proposed for ${missing.join(', ')}` });
  }
  return success({ text: lines.join('\n'), leftOut });
}

const PATTERN = /\{\{\s*([^{}]*?)\s*\}\}/g;

function findUnknown(template: string): string[] {
  const names = [...template.matchAll(PATTERN)].map((match) => match[1]!);
  return [...new Set(names.filter((name) => !(name in PLACEHOLDERS)))];
}

function findValue(
  name: Placeholder,
  machine: MachineFile,
  proposals: readonly ProposalRecord[],
): string | undefined {
  const changed = (what: string) =>
    proposals.find((proposal) => proposal.what === what && !proposal.leaveAlone);
  switch (name) {
    case 'x.stepsPerMm':
    case 'y.stepsPerMm': {
      const axis = name[0] as 'x' | 'y';
      const steps = changed(`scale.${axis}`)?.to ?? machine.axes?.[axis]?.stepsPerMm;
      return steps === undefined ? undefined : String(steps);
    }
    case 'x.lostMotion':
    case 'y.lostMotion': {
      const proposal = changed(`lostMotion.${name[0]}`);
      // A setting that compensates too much has to go down by an amount, not to it.
      const isPlay = proposal?.direction === 'less play';
      return isPlay ? proposal?.amount?.toFixed(3) : undefined;
    }
    case 'squareness.offset': {
      const proposal = changed('squareness');
      if (proposal?.amount === undefined || proposal.unit !== 'mm') return undefined;
      return (proposal.side?.startsWith('+') ? proposal.amount : -proposal.amount).toFixed(3);
    }
  }
}
