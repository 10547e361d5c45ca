/** Script: renders the committed sample again, the same to the last bit on the same libraries. */

import { fileURLToPath } from 'node:url';
import { writeSampleSet } from './sign-shop-set.js';

// Compiled, this file lies in dist/samples; the sample belongs beside the sources.
const outDir =
  process.argv[2] ?? fileURLToPath(new URL('../../samples/sign-shop', import.meta.url));
const files = await writeSampleSet(outDir, (file, done, total) => {
  process.stderr.write(`${done}/${total} ${file}\n`);
});
process.stdout.write(`${files.join('\n')}\n`);
