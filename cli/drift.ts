/** stub until written */
import { Command } from 'commander';
import type { Outcome } from '../src/index.js';
import { success } from '../src/index.js';
import type { CommandContext } from './command-context.js';
export function buildDrift(run: (options: object) => Promise<void>) {
  return new Command('drift').action(run);
}
export async function runDrift(_: object, __: CommandContext): Promise<Outcome<number>> {
  return success(0);
}
