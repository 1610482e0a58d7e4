import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

export default defineConfig({
  root: fileURLToPath(new URL('..', import.meta.url)),
  test: {
    include: ['tests/**/*.test.ts'],
    testTimeout: 60_000,
    hookTimeout: 120_000,
    maxWorkers: 3,
    // Modules are loaded once for all files of a worker: a quarter of the time went into loading them again.
    isolate: false,
    // A page answers a click in its own time: what a browser test reads is asked for again until it is so.
    expect: { poll: { timeout: 20_000, interval: 50 } },
    allowOnly: false,
    passWithNoTests: false,
  },
});
