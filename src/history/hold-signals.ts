/** Ctrl-C and termination wait until what was begun is finished or taken back. */

import process from 'node:process';

/** Not the hang-up: whoever started with `nohup` wants it ignored, and listening would undo that. */
const SIGNALS = ['SIGINT', 'SIGTERM'] as const;

/**
 * Does work that must not leave half of itself behind. A signal that comes meanwhile is held and takes effect
 * afterwards, as if it came then.
 *
 * @param work is told whether a signal is held; it had better stop soon then, and take back what it did.
 */
export async function holdSignals<T>(work: (isHeld: () => boolean) => Promise<T>): Promise<T> {
  let held: (typeof SIGNALS)[number] | undefined;
  const hold = (signal: NodeJS.Signals) => {
    held ??= SIGNALS.find((one) => one === signal);
  };
  for (const signal of SIGNALS) process.on(signal, hold);
  try {
    return await work(() => held !== undefined);
  } finally {
    for (const signal of SIGNALS) process.removeListener(signal, hold);
    if (held !== undefined) {
      process.kill(process.pid, held);
      // Unless somebody else listens, the process ends here, before anything else can be said.
      if (process.listenerCount(held) === 0) await new Promise(() => {});
    }
  }
}

/** Thrown by work that stops because a signal is held. */
export class Interrupted extends Error {
  override readonly name = 'Interrupted';
}
