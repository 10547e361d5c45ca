/** `gantrue compensate`: a program rewritten so that it lands true on the machine that was measured. */

import { basename } from 'node:path';
import { Command } from 'commander';
import { MM_PER_INCH } from '../shared/mm-per-inch.js';
import type { CompensatedTerm, Outcome } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';
import { jsonText } from './json-text.js';

export interface CompensateOptions extends DisplayOptions {
  readonly measurement: string;
  readonly machine?: string;
  readonly only?: string;
  readonly tolerance?: string;
  readonly origin?: string;
  readonly out?: string;
  readonly force?: boolean;
}

export function buildCompensate(
  run: (program: string, options: CompensateOptions) => Promise<void>,
) {
  const command = new Command('compensate')
    .description('rewrite a program so that it lands true on the machine that was measured')
    .argument('<program>', 'RS-274/NGC text')
    .requiredOption('--measurement <file>', 'measurement.json, or its folder')
    .option('--machine <file>', 'machine file (YAML): travel, against which the result is checked')
    .option(
      '--only <list>',
      'of squareness, scale, straightness, table, racking; with commas (default: all that is measured)',
    )
    .option('--tolerance <length>', 'of chords and split lines (default: 0.005 mm)')
    .option(
      '--origin <X,Y>',
      "where the program's zero lies in the coordinates of the grid's program (default: 0,0)",
    )
    .option('--out <file|dir>', 'where to (default: PROGRAM-compensated, in this folder)')
    .option('--force', 'replace a compensated program of an earlier run');
  return addDisplayOptions(command).action(run);
}

/**
 * Fails: as reading the files; WRONG_CALL; as compensating; OUTPUT_EXISTS; OUTPUT_UNWRITABLE. Nothing is
 * written then.
 */
export async function runCompensate(
  path: string,
  options: CompensateOptions,
  { streams }: CommandContext,
): Promise<Outcome<number>> {
  const library = await import('../src/index.js');
  const wanted = await parseOnly(options.only);
  if (!wanted.ok) return wanted;
  const tolerance = await parseTolerance(options);
  if (!tolerance.ok) return tolerance;
  const zero = await parseOrigin(options);
  if (!zero.ok) return zero;

  const program = await library.readProgramText(path, basename(path));
  if (!program.ok) return program;
  const saved = await library.readMeasurement(options.measurement);
  if (!saved.ok) return saved;
  const machine =
    options.machine === undefined ? undefined : await library.readMachine(options.machine);
  if (machine !== undefined && !machine.ok) return machine;

  const out = await library.compensatedPath(path, options.out);
  const output = {
    force: options.force === true,
    sourcePaths: [
      path,
      saved.value.file,
      ...(options.machine === undefined ? [] : [options.machine]),
    ],
  };
  const writable = await library.checkProgramOutput(out, output);
  if (!writable.ok) return writable;
  const compensated = library.compensate({
    name: basename(path),
    text: program.value.text,
    measurement: saved.value.measurement,
    measurementSha256: saved.value.sha256,
    machine: machine?.value,
    wanted: wanted.value,
    toleranceMm: tolerance.value,
    zeroMm: zero.value,
  });
  if (!compensated.ok) return compensated;
  const { text, record } = compensated.value;
  const written = await library.writeProgramFile(out, { ...program.value, text }, output);
  if (!written.ok) return written;
  streams.stdout.write(
    options.json
      ? jsonText({ ...record, file: out })
      : library.compensationText(record, summaryOptions(options, streams)),
  );
  if (!options.quiet) streams.stderr.write(`wrote ${out}\n`);
  return library.success(0);
}

async function parseOnly(text: string | undefined): Promise<Outcome<ReadonlySet<CompensatedTerm>>> {
  const { COMPENSATED_TERMS, failed, success } = await import('../src/index.js');
  if (text === undefined) return success(new Set(COMPENSATED_TERMS));
  const wanted = new Set<CompensatedTerm>();
  for (const name of text.split(',').map((one) => one.trim().toLowerCase())) {
    const known = COMPENSATED_TERMS.find((term) => term === name);
    if (known === undefined) {
      return failed('WRONG_CALL', `--only: "${name}" is not known`, {
        hint: `choose among ${COMPENSATED_TERMS.join(', ')}, with commas between`,
      });
    }
    wanted.add(known);
  }
  return success(wanted);
}

/** Finer ones only make long programs of rounding; coarser ones would be seen. */
const TOLERANCES_MM = [0.001, 1] as const;

async function parseTolerance({ tolerance, units }: CompensateOptions): Promise<Outcome<number>> {
  const { DEFAULT_TOLERANCE_MM, failed, success } = await import('../src/index.js');
  if (tolerance === undefined) return success(DEFAULT_TOLERANCE_MM);
  const mm = Number(tolerance) * (units === 'mm' ? 1 : MM_PER_INCH);
  const [least, most] = TOLERANCES_MM;
  if (tolerance.trim() !== '' && mm >= least && mm <= most) return success(mm);
  return failed(
    'WRONG_CALL',
    `--tolerance: expected ${least} to ${most} mm, found "${tolerance}"`,
    {
      hint: 'correct the option; --units says whether lengths are mm or inches',
    },
  );
}

async function parseOrigin({
  origin,
  units,
}: CompensateOptions): Promise<Outcome<readonly [number, number]>> {
  const { failed, success } = await import('../src/index.js');
  if (origin === undefined) return success([0, 0]);
  const number = String.raw`\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*`;
  const match = new RegExp(`^${number},${number}$`).exec(origin);
  const factor = units === 'mm' ? 1 : MM_PER_INCH;
  if (match !== null) return success([Number(match[1]) * factor, Number(match[2]) * factor]);
  return failed('WRONG_CALL', `--origin: expected X,Y, found "${origin}"`, {
    hint: "write where the program's zero lies in the grid's coordinates, such as --origin 300,200",
  });
}
