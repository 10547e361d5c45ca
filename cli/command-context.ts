/** What every command's run function is given. */

import type { Streams } from './streams.js';

export interface CommandContext {
  readonly streams: Streams;
  readonly now: () => Date;
  readonly version: string;
}
