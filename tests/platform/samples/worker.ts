// An instance that works on one queue, as a process of its own: `hold` never ends a piece of work, `do` says that it did it.
import pg from 'pg';
import { pino } from 'pino';
import { startJobs } from '../../../src/platform/jobs.ts';

const [url = '', how] = process.argv.slice(2);
const jobs = await startJobs(url, new pg.Pool({ connectionString: url }), pino({ level: 'silent' }));
const say = (line: string) => process.stdout.write(`${line}\n`);
await jobs.work<{ name: string }>('test-work', async (pieces) => {
  say(`${how} ${pieces.map(({ name }) => name).join(' ')}.`);
  if (how === 'hold') await new Promise(() => undefined);
});
say('ready');
