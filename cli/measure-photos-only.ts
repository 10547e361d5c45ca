/** `gantrue measure --photos-only`: will the photos do? Nothing is solved, nothing is written. */

import { EXIT } from '../shared/failure-codes.js';
import type { Outcome, SeenCrossing } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { summaryOptions } from './display-options.js';
import { jsonText } from './json-text.js';
import { countWorkers, listMarkedBy, type MeasureOptions } from './measure.js';
import { startProgress } from './progress.js';

/**
 * Options of the whole measurement are passed over, with a note: so a command line can be tried with
 * this option added to it.
 *
 * Fails: WRONG_CALL; as reading the program; NO_USABLE_PHOTO.
 *
 * @returns exit code 4 under `--check` where the photos are not enough.
 */
export async function runPhotosOnly(
  photoFiles: readonly string[],
  crossings: readonly SeenCrossing[],
  options: MeasureOptions,
  context: CommandContext,
): Promise<Outcome<number>> {
  const { checkPhotos, photoCheckText, success } = await import('../src/index.js');
  const markedBy = await listMarkedBy(options);
  if (!markedBy.ok) return markedBy;
  const { streams } = context;
  const unused = listUnused(options);
  if (unused.length > 0 && !options.quiet) {
    streams.stderr.write(`not used with --photos-only: ${unused.join(', ')}\n`);
  }
  const progress = startProgress(options.quiet === true, streams);
  try {
    const checked = await checkPhotos(
      {
        photoFiles,
        markedBy: markedBy.value,
        marking: options.marking,
        blockDelete: options.blockDelete === 'on',
        known: [],
        ...(options.origin === undefined ? {} : { origin: options.origin }),
        crossings,
      },
      {
        now: context.now,
        toolVersion: context.version,
        workers: countWorkers(options),
        onProgress: progress.show,
      },
    );
    if (!checked.ok) return checked;
    progress.end();
    const { check, failure } = checked.value;
    streams.stdout.write(
      options.json ? jsonText(check) : photoCheckText(check, summaryOptions(options, streams)),
    );
    // What is wrong with each photo was worth telling all the same.
    if (failure !== undefined) return { ok: false, failure };
    const isEnough = check.set.state !== 'not enough';
    return success(options.check && !isEnough ? EXIT.undetermined : EXIT.done);
  } finally {
    progress.end();
  }
}

function listUnused({ machine, evidence, known, rectified, out, force }: MeasureOptions): string[] {
  return [
    ...(machine === undefined ? [] : ['--machine']),
    ...(evidence === undefined ? [] : ['--evidence']),
    ...(known === undefined ? [] : ['--known']),
    ...(rectified ? ['--rectified'] : []),
    ...(out === undefined ? [] : ['--out']),
    ...(force ? ['--force'] : []),
  ];
}
