/**
 * Last step of the build: the command, its threads and the library's door in a few files instead of some five hundred,
 * each of which would be looked up and read at every start. They lie side by side, since a thread's file is looked for
 * beside the code that starts it. Other packages stay as they are.
 */

import { isAbsolute } from 'node:path';
import { build } from 'rolldown';

await build({
  input: ['./dist/cli/gantrue.js', './dist/src/index.js', './dist/src/survey/photo-worker.js'],
  platform: 'node',
  external: (id) => !id.startsWith('.') && !isAbsolute(id),
  output: { dir: 'dist/bin', entryFileNames: '[name].js', chunkFileNames: 'part-[name].js' },
});
