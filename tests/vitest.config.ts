import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';
import { BaseSequencer, type TestSpecification } from 'vitest/node';

// Longest first: one that began last would run alone at the end, on one core. The demo farm is grown by the first that
// asks for it: those that wait for it begin later. The pure ones come before all others: a worker ends where the next file
// is of the other kind, and in their midst each worker would read the service in once more.
const longest = [
  'tests/science/photograph/refusals',
  'tests/science/photograph/',
  'tests/science/',
  'tests/browser/screens',
  'tests/browser/round-offline',
  'tests/platform/site-bounds',
  'tests/situations/a-farm-with-little',
  'tests/watch/demo',
  'tests/watch/one-figure',
  'tests/platform/typed-forms',
  'tests/exports/farm',
  'tests/platform/route-access',
  'tests/intake/large-files',
  'tests/platform/instances',
  'tests/platform/sent-twice',
  'tests/platform/fuzz',
  'tests/browser/',
  'tests/backups/restore',
  'tests/platform/data-folder',
  'tests/rounds/tablet-queue',
  'tests/platform/undo',
  'tests/intake/mqtt',
  'tests/platform/look',
  'tests/platform/embedded',
];

class LongestFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const place = ({ moduleId }: TestSpecification) => {
      const at = longest.findIndex((part) => moduleId.includes(part));
      return at < 0 ? longest.length : at;
    };
    return (await super.sort(files)).sort((a, b) => place(a) - place(b));
  }
}

// No file leaves anything behind in its process, so files follow each other in one: the service is read in once a worker.
const pure = 'tests/science/**/*.test.ts';

export default defineConfig({
  root: fileURLToPath(new URL('..', import.meta.url)),
  test: {
    globalSetup: ['tests/support/server.ts'],
    sequence: { sequencer: LongestFirst },
    // Integration tests wait for the database half of the time; one worker a core would leave cores idle.
    maxWorkers: 3,
    // They bound a hang, not a speed: on a busy machine all takes its time, and what is there is seen at once.
    testTimeout: 600_000,
    // The first file that asks for the demo farm grows it, and others wait for that.
    hookTimeout: 1_200_000,
    teardownTimeout: 600_000,
    // Each look at a page costs some milliseconds of a core that others wait for.
    expect: { poll: { timeout: 300_000, interval: 100 } },
    projects: [
      {
        extends: true,
        test: {
          name: 'service',
          include: ['tests/**/*.test.ts'],
          exclude: [pure],
          pool: 'forks',
          // Pages are made of many short texts: more room for what is new halves the time for clearing it away.
          execArgv: ['--max-semi-space-size=64'],
          isolate: false,
        },
      },
      { extends: true, test: { name: 'science', include: [pure], pool: 'threads', isolate: false } },
    ],
  },
});
