// Generates the Prisma client. The generator wants to fetch a schema engine that it does not use here;
// pointing it at any executable keeps it offline.
import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

const prisma = fileURLToPath(new URL('../node_modules/.bin/prisma', import.meta.url));
const schema = fileURLToPath(new URL('./schema.prisma', import.meta.url));

// A production install has no Prisma command line; there the generated client is copied in.
if (existsSync(prisma)) {
  const run = spawnSync(prisma, ['generate', '--schema', schema], {
    encoding: 'utf8',
    env: { ...process.env, PRISMA_SCHEMA_ENGINE_BINARY: process.execPath, CHECKPOINT_DISABLE: '1' },
  });
  if (run.status !== 0) {
    process.stderr.write(run.stdout + run.stderr);
    process.exit(run.status ?? 1);
  }
}
