// Fails when an import or a table is used the wrong way, when rooms form a circle, or when a listing is too long.
import { globSync } from 'node:fs';
import { inspect } from './cruise.ts';
import { inspectRooms } from './rooms.ts';
import { inspectRoutes } from './routes.ts';
import { inspectTables } from './table-uses.ts';
import { exceptions } from './tables.ts';

const folders = ['src', 'seed'];
const { modules, violations } = await inspect(process.cwd(), folders);
const files = folders
  .flatMap((folder) => globSync(`${folder}/**/*.ts`))
  .filter((file) => !file.startsWith('src/generated'));
violations.push(
  ...inspectTables(process.cwd(), exceptions),
  ...inspectRoutes(process.cwd()),
  ...(await inspectRooms(process.cwd())),
);
for (const violation of violations) process.stdout.write(`${violation}\n`);
// A cruiser that cannot read the language reads nothing and finds nothing.
if (modules < files.length) process.stdout.write(`Only ${modules} of ${files.length} modules were read.\n`);
process.exitCode = violations.length === 0 && modules >= files.length ? 0 : 1;
