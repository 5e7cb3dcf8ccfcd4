// npm start: the service for a real farm.
import { enableCompileCache, flushCompileCache } from 'node:module';
import { fileURLToPath } from 'node:url';

const say = (line: string) => process.stdout.write(`${line}\n`);

// Reading a thousand files takes a third of what a start takes; what came of it is kept beside the packages. Where nothing can
// be written there, they are read anew. Everything of ours is therefore imported after this line.
enableCompileCache(fileURLToPath(new URL('../node_modules/.cache/evenwater', import.meta.url)));

const { readConfig, shownConfig } = await import('./platform/config.ts');
const { answerWhileStarting } = await import('./starting.ts');

try {
  // At a terminal somebody reads along: sentences, and log lines only from warnings on.
  const quiet = process.stdout.isTTY ? { LOG_LEVEL: 'warn' } : {};
  const config = readConfig({ ...quiet, ...process.env });
  if (process.stdout.isTTY) say('Starting Evenwater ...');
  const door = await answerWhileStarting(config);
  // The rest of the program is read afterwards: that alone takes seconds on a busy machine.
  const [{ start, stopOnSignal }, { loadCare }, { readyWords }] = await Promise.all([
    import('./start.ts'),
    import('../seed/care.ts'),
    import('./ready-words.ts'),
  ]);
  const starting = start(config, async ({ pool }) => void (await loadCare(pool)), say, door);
  stopOnSignal(starting);
  const { service, address } = await starting;
  service.log.info({ settings: shownConfig(config), address }, 'Evenwater is ready');
  const hasOwner = (await service.db.account.count()) > 0;
  readyWords({ address, host: config.HOST, publicUrl: config.PUBLIC_URL }, hasOwner).forEach(say);
  say('Ctrl-C stops it.');
  // A service that is killed later has kept it all the same.
  flushCompileCache();
} catch (error) {
  process.stderr.write(`${error instanceof Error ? error.message : String(error)}\n`);
  process.exit(1);
}
