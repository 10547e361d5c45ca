/** Photos examined by several threads at once: each takes the next photo as soon as it is free. */

import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { MessageChannel, Worker } from 'node:worker_threads';
import { pixelCount } from '../imaging/index.js';
import { Failure, failed, type Outcome, success } from '../quantity/index.js';
import type { Board } from './board.js';
import type { PhotoFate, PhotosBefore, Said } from './examine-photo.js';
import { type FromWorker, type PhotoTask, unpackFate } from './worker-messages.js';

/** Examines one photo. Fails: WORKER_LOST. */
export type Examiner = (
  path: string,
  before: PhotosBefore,
  onStep: (step: string) => void,
) => Promise<Outcome<PhotoFate>>;

/** What is the same for all photos. */
export interface ExaminersGround {
  readonly board: Board;
  readonly said: Said;
}

/** Eight photos of 12 megapixels, or two of 48, at once: a thread holds some bytes for each pixel of its photo. */
const MOST_PIXELS = 100e6;

const WORKER_FILE = new URL('./photo-worker.js', import.meta.url);

/** Threads run compiled code only: the sources themselves, as under test, are run in the caller's thread. */
export function canWorkSideBySide(): boolean {
  return existsSync(fileURLToPath(WORKER_FILE));
}

/**
 * @param workers threads to start.
 * @param examine is called with the photos in their order, and with the thread that is to do it.
 * Fails: WORKER_LOST. Throws what a thread throws. No thread is left either way.
 */
export async function examineSideBySide(
  paths: readonly string[],
  ground: ExaminersGround,
  workers: number,
  examine: (index: number, by: Examiner) => Promise<Outcome<PhotoFate>>,
): Promise<Outcome<PhotoFate[]>> {
  const fates: PhotoFate[] = [];
  const enter = makeRoom(MOST_PIXELS);
  const crew = Array.from({ length: workers }, () => startWorker(ground));
  let next = 0;
  const work = async (member: CrewMember) => {
    while (next < paths.length) {
      const i = next++;
      const leave = await enter(pixelCount(paths[i]));
      fates[i] = await examine(i, examinerOf(member)).then(valueOrThrow);
      leave();
    }
  };
  try {
    await Promise.all(crew.map(work));
    return success(fates);
  } catch (thrown) {
    if (thrown instanceof Failure) return { ok: false, failure: thrown };
    throw thrown;
  } finally {
    await Promise.all(crew.map(({ thread }) => thread.terminate()));
  }
}

function valueOrThrow(outcome: Outcome<PhotoFate>): PhotoFate {
  if (!outcome.ok) throw outcome.failure;
  return outcome.value;
}

/**
 * Lets photos in by the order of their calls, while there is room for their pixels; a large one alone. Were a
 * later one let in before an earlier one, it might wait for that one for ever.
 */
function makeRoom(most: number): (pixels: Promise<number>) => Promise<() => void> {
  let inside = 0;
  let onLeave = () => {};
  let turn: Promise<unknown> = Promise.resolve();
  const letIn = async (pixels: number) => {
    while (inside > 0 && inside + pixels > most) {
      await new Promise<void>((resolve) => {
        onLeave = resolve;
      });
    }
    inside += pixels;
    return () => {
      inside -= pixels;
      onLeave();
    };
  };
  return (pixels) => {
    const admitted = turn.then(() => pixels).then(letIn);
    turn = admitted;
    return admitted;
  };
}

interface CrewMember {
  readonly thread: Worker;
  /** Kept when the thread has ended, by itself or not. */
  readonly lost: Promise<string>;
}

function startWorker(ground: ExaminersGround): CrewMember {
  const thread = new Worker(WORKER_FILE, { workerData: ground });
  const lost = new Promise<string>((resolve) => {
    thread.once('error', (cause) => resolve(cause.message));
    thread.once('exit', (code) => resolve(`it ended with code ${code}`));
  });
  return { thread, lost };
}

function examinerOf({ thread, lost }: CrewMember): Examiner {
  return async (path, before, onStep) => {
    const { port1: port, port2: theirs } = new MessageChannel();
    const examined = new Promise<PhotoFate>((resolve, reject) => {
      port.on('message', async (message: FromWorker) => {
        if (message.kind === 'step') onStep(message.step);
        else if (message.kind === 'twin?') port.postMessage(await before.twinOf(message.sha256));
        else if (message.kind === 'board?') port.postMessage(await before.board());
        else if (message.kind === 'fate') resolve(unpackFate(message.fate));
        else reject(message.thrown);
      });
    });
    const task: PhotoTask = { path, port: theirs };
    thread.postMessage(task, [theirs]);
    const ended = lost.then((why) =>
      failed('WORKER_LOST', `the thread that examined this photo died: ${why}`, {
        where: path,
        hint: 'give it more memory: close other programs, or examine one photo at a time with --workers 1',
      }),
    );
    try {
      return await Promise.race([examined.then(success), ended]);
    } finally {
      port.close();
    }
  };
}
