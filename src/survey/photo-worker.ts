/** A thread that examines photos, one after the other; started by `examineSideBySide`. */

import { parentPort, workerData } from 'node:worker_threads';
import { examinePhoto } from './examine-photo.js';
import type { ExaminersGround } from './examine-side-by-side.js';
import { type FromWorker, type PhotoTask, packFate } from './worker-messages.js';

const { board, said } = workerData as ExaminersGround;

parentPort?.on('message', async ({ path, port }: PhotoTask) => {
  const tell = (message: FromWorker) => port.postMessage(message);
  const ask = <T>(question: FromWorker) =>
    new Promise<T>((resolve) => {
      port.once('message', resolve);
      tell(question);
    });
  try {
    const fate = await examinePhoto(
      path,
      board,
      said,
      {
        twinOf: (sha256) => ask({ kind: 'twin?', sha256 }),
        board: () => ask({ kind: 'board?' }),
      },
      (step) => tell({ kind: 'step', step }),
    );
    tell({ kind: 'fate', fate: packFate(fate) });
  } catch (thrown) {
    tell({ kind: 'fault', thrown });
  }
});
