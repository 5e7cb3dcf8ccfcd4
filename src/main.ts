// npm start: the service for a real farm.
import { loadCare } from '../seed/care.ts';
import { readConfig, shownConfig } from './platform/config.ts';
import { start, stopOnSignal } from './start.ts';

try {
  const config = readConfig(process.env);
  const running = await start(config, async ({ pool }) => void (await loadCare(pool)));
  running.service.log.info({ settings: shownConfig(config), address: running.address }, 'Evenwater is ready');
  stopOnSignal(running);
} catch (error) {
  process.stderr.write(`${error instanceof Error ? error.message : String(error)}\n`);
  process.exit(1);
}
