import { globSync } from 'node:fs';
import { importsOf } from './cruise.ts';

/** What the program starts from: the service and its workers, the commands of the machine, the demo farm, the tablet's code. */
const starts = [
  'src/main.ts',
  'src/backups/commands.ts',
  'src/exports/farm/commands.ts',
  'src/people/password-command.ts',
  'src/platform/tls/command.ts',
  'seed/demo.ts',
  ...globSync('src/browser/*.ts'),
  ...globSync('src/**/*-worker.ts').filter((file) => !file.startsWith('src/browser')),
];

/** Science that nothing starts yet, each with the reason why it is kept. */
const kept: Record<string, string> = {};

/** Files of src that neither the program nor what is kept on purpose ever imports; one line each. */
export async function unreached(baseDir: string): Promise<string[]> {
  const imports = await importsOf(baseDir, ['src', 'seed']);
  const next = Map.groupBy(imports, ({ from }) => from);
  const seen = new Set<string>();
  const queue = [...starts, ...Object.keys(kept)];
  for (let file = queue.pop(); file !== undefined; file = queue.pop()) {
    if (seen.has(file)) continue;
    seen.add(file);
    queue.push(...(next.get(file) ?? []).map(({ to }) => to));
  }
  return globSync('src/**/*.ts', { cwd: baseDir })
    .filter((file) => !file.startsWith('src/generated') && !seen.has(file))
    .map((file) => `nothing that starts imports ${file}`);
}
