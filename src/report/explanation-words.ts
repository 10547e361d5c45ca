/** What a history says of machine and board, in a few words. */

import type { MachineDrift } from '../../shared/schemas/drift.js';

export const EXPLANATION: Readonly<Record<MachineDrift['explanation']['verdict'], string>> = {
  machine: 'the machine has moved',
  board: 'the board has moved, not the machine',
  both: 'machine and board have both moved, each by itself',
  neither: 'nothing has moved that could be told from noise',
  'cannot tell': 'these data cannot tell which of them has moved',
};
