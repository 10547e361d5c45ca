/** `gantrue plan --check`: what a program would mark, whether it fits, what its grid can reveal. */

import { basename } from 'node:path';
import { EXIT } from '../shared/failure-codes.js';
import type { MachineFile } from '../shared/schemas/machine.js';
import type { Outcome } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { jsonText } from './json-text.js';
import { chooseTravel, parseLength } from './parse-sizes.js';
import type { PlanOptions } from './plan.js';

const CHECK_FOLDER = 'gantrue-check';
const CHECK_SCHEMA_ID = 'gantrue/check/1';

/**
 * Fails: as reading the program; WRONG_CALL; OUTPUT_EXISTS; OUTPUT_UNWRITABLE.
 *
 * @returns exit code 1 where the program leaves the travel, or a hole lies beside its line.
 */
export async function runCheck(
  path: string,
  options: PlanOptions,
  machine: MachineFile | undefined,
  { streams, version }: CommandContext,
): Promise<Outcome<number>> {
  const library = await import('../src/index.js');
  const travel = chooseTravel(options, machine);
  if (!travel.ok) return travel;
  const tool =
    options.toolDiameter === undefined
      ? undefined
      : parseLength('--tool-diameter', options.toolDiameter, options.units);
  if (tool !== undefined && !tool.ok) return tool;
  const read = await library.readCommandsFile(path, {
    name: basename(path),
    marking: options.marking ?? 'auto',
    blockDelete: options.blockDelete === 'on',
  });
  if (!read.ok) return read;
  const program = read.value;
  const travelMm = travel.value;
  const check = library.checkProgram(program, {
    ...(travelMm === undefined ? {} : { travelMm }),
    periodsMm: library.drivePeriods(machine),
    toolDiameterMm: tool?.value ?? 0,
  });
  const picture = library.previewSvg({
    title: `${program.name}: ${program.strokes.length} marks, ${program.holes.length} holes`,
    strokes: program.strokes,
    holes: check.holes,
  });
  const result = {
    schema: CHECK_SCHEMA_ID,
    tool: { name: 'gantrue', version },
    files: ['check.json', 'check.svg'],
    program: program.name,
    sha256: program.sha256,
    marking: program.marking,
    ...check,
    findings: program.findings,
  };
  const out = options.out ?? CHECK_FOLDER;
  const json = jsonText(result);
  const written = await library.writeOutputFolder(
    out,
    [
      { name: 'check.json', content: json },
      { name: 'check.svg', content: picture },
    ],
    {
      force: options.force === true,
      sourcePaths: [path, ...(options.machine === undefined ? [] : [options.machine])],
    },
  );
  if (!written.ok) return written;
  const text = library.checkText(check, {
    name: program.name,
    marking: program.marking,
    units: options.units,
  });
  const doubts = program.findings.map(
    ({ message, code, hint }) =>
      `  ? ${message} [${code}]${hint === undefined ? '' : `; ${hint}`}\n`,
  );
  streams.stdout.write(
    options.json ? json : text + (doubts.length > 0 ? `\nDoubts:\n${doubts.join('')}` : ''),
  );
  if (!options.quiet) streams.stderr.write(`wrote ${written.value.join(', ')}\n`);
  const isWrong =
    check.fit.x?.isInside === false ||
    check.fit.y?.isInside === false ||
    check.holes.some((hole) => hole.isSuspect);
  return library.success(isWrong ? EXIT.outsideLimits : EXIT.done);
}
