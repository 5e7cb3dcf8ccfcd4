import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

export default defineConfig({
  root: fileURLToPath(new URL('..', import.meta.url)),
  test: {
    include: ['tests/**/*.test.ts'],
    globalSetup: ['tests/support/server.ts'],
    pool: 'forks',
    // Integration tests wait for the database half of the time; one worker a core less one would leave cores idle.
    maxWorkers: 3,
    testTimeout: 30_000,
    hookTimeout: 60_000,
  },
});
