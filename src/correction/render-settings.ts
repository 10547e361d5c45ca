/** Proposals in the form in which the shop's controller writes its settings: the owner's own Liquid template. */

import type { Liquid } from 'liquidjs';
import type { MachineFile } from '../../shared/schemas/machine.js';
import type { ProposalRecord } from '../../shared/schemas/measurement.js';
import { failed, type Outcome, success } from '../quantity/index.js';

/** What may stand between double braces, and what it becomes. */
export const PLACEHOLDERS = {
  'x.stepsPerMm': 'steps per mm of X: the proposed ones, else those of the machine file',
  'y.stepsPerMm': 'steps per mm of Y: the proposed ones, else those of the machine file',
  'x.lostMotion': 'lost motion of X that is left: to be added to what stands there, mm',
  'y.lostMotion': 'lost motion of Y that is left: to be added to what stands there, mm',
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

/** A page of settings is far below; a template that loops without end is stopped here. Characters, ms, allocations. */
const LIMITS = { parseLimit: 100_000, renderLimit: 1000, memoryLimit: 1_000_000 } as const;

const OUTPUT = /\{\{-?[^{}]*-?\}\}/g;
/** A tag that spans lines keeps them together: conditions are the owner's own way of leaving out. */
const TAG = /\{%/;

/**
 * Fills in the machine file's template; undefined where it has none. A line whose value is neither
 * proposed nor known is left out, never filled with a zero; in tags (`{% if x.lostMotion %}`) such a value is empty.
 *
 * Fails: MACHINE_INVALID for a placeholder that does not exist, and for what is no template.
 */
export async function renderSettings(
  machine: MachineFile,
  proposals: readonly ProposalRecord[],
): Promise<Outcome<RenderedSettings | undefined>> {
  if (machine.settings === undefined) return success(undefined);
  const { Liquid } = await import('liquidjs');
  // No file of this computer is a part of the template, whatever it includes.
  const engine = new Liquid({
    ...LIMITS,
    templates: {},
    ownPropertyOnly: true,
    strictFilters: true,
  });
  try {
    return success(fill(engine, machine.settings, machine, proposals));
  } catch (cause) {
    if (cause instanceof UnknownPlaceholder) {
      return failed('MACHINE_INVALID', `settings: ${cause.message}`, {
        hint: `known are ${Object.keys(PLACEHOLDERS)
          .map((name) => `{{${name}}}`)
          .join(', ')}`,
      });
    }
    const message = cause instanceof Error ? cause.message : String(cause);
    return failed('MACHINE_INVALID', `settings: ${message}`, {
      hint: 'write them as a Liquid template, such as `steps X = {{x.stepsPerMm}}`',
      cause,
    });
  }
}

class UnknownPlaceholder extends Error {}

function fill(
  engine: Liquid,
  template: string,
  machine: MachineFile,
  proposals: readonly ProposalRecord[],
): RenderedSettings {
  // Names that the template sets itself are its own.
  const unknown = engine.globalFullVariablesSync(template).filter((name) => !isPlaceholder(name));
  if (unknown.length > 0) {
    const names = [...new Set(unknown)].map((name) => `{{${name}}}`).join(', ');
    throw new UnknownPlaceholder(`unknown ${names}`);
  }
  const knownValue = (name: string) => findValue(name as Placeholder, machine, proposals);
  const kept: string[] = [];
  const leftOut: RenderedSettings['leftOut'][number][] = [];
  for (const line of template.trimEnd().split('\n')) {
    const missing = TAG.test(line)
      ? []
      : (line.match(OUTPUT) ?? [])
          .flatMap((output) => engine.globalFullVariablesSync(output))
          .filter((name) => isPlaceholder(name) && knownValue(name) === undefined);
    if (missing.length === 0) kept.push(line);
    else leftOut.push({ line, why: `nothing is proposed for ${missing.join(', ')}` });
  }
  const scope: Record<string, Record<string, string>> = {};
  for (const name of Object.keys(PLACEHOLDERS)) {
    const [group, key] = name.split('.') as [string, string];
    const value = knownValue(name);
    scope[group] ??= {};
    if (value !== undefined) scope[group][key] = value;
  }
  return { text: engine.parseAndRenderSync(kept.join('\n'), scope), leftOut };
}

/** Not `in`, which also finds what every object has: `toString`. */
function isPlaceholder(name: string): name is Placeholder {
  return Object.hasOwn(PLACEHOLDERS, name);
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
