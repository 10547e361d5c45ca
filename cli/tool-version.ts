/** The version of the package this file belongs to. */

import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** Compiled or not, the package's own description lies in one of the folders above. */
export function toolVersion(): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  for (;;) {
    try {
      const found = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8'));
      if (found.name === 'gantrue') return String(found.version);
    } catch {
      // Not in this folder.
    }
    const parent = dirname(folder);
    if (parent === folder) return 'unknown';
    folder = parent;
  }
}
