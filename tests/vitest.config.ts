import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

export default defineConfig({
  root: fileURLToPath(new URL('..', import.meta.url)),
  test: {
    include: ['tests/**/*.test.ts'],
    benchmark: { include: ['tests/bench/**/*.bench.ts'] },
    // Photos are decoded and rendered in tests; two cores and 12-megapixel files need the room.
    testTimeout: 300_000,
    hookTimeout: 300_000,
    maxWorkers: 2,
  },
});
