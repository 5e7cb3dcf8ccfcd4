import { fileURLToPath } from 'node:url';
import type { FastifyInstance } from 'fastify';
import type { Config } from './platform/config.ts';
import { clockDoubts, holdToClock } from './platform/database/machine-clock.ts';
import { type Database, openDatabase } from './platform/database.ts';
import { standingClock } from './platform/door/moments.ts';
import { type JobsOptions, startJobs } from './platform/jobs.ts';
import { openLog } from './platform/log.ts';
import type { Service } from './platform/service.ts';
import { loadViews } from './platform/views.ts';
import type { Starting } from './starting.ts';

/** A running service. */
export interface Running {
  service: Service;
  app: FastifyInstance;
  /** Where it answers. */
  address: string;
  stop(): Promise<void>;
}

const viewsDir = fileURLToPath(new URL('../views', import.meta.url));
const checkedViews = fileURLToPath(
  new URL('../node_modules/.cache/evenwater/views-checked', import.meta.url),
);
const firstPort = 8080;
const portsTried = 20;

async function listen(app: FastifyInstance, config: Config): Promise<string> {
  const wanted = config.PORT ?? firstPort;
  const last = config.PORT === undefined ? wanted + portsTried : wanted;
  let host = config.HOST;
  for (let port = wanted; ; port++) {
    try {
      return await app.listen({ host, port });
    } catch (error) {
      const { code } = error as NodeJS.ErrnoException;
      if (code === 'EADDRNOTAVAIL' && host === '127.0.0.1') {
        // A machine that speaks only IPv6.
        host = '::1';
        port--;
        continue;
      }
      if (code === 'EADDRNOTAVAIL')
        throw new Error(
          `This machine has no address ${host}. Set HOST to one it has, or to 0.0.0.0 for all.`,
          {
            cause: error,
          },
        );
      if (code !== 'EADDRINUSE') throw error;
      if (port >= last) throw new Error(`Port ${port} is taken. Set PORT to a free one.`, { cause: error });
    }
  }
}

/** What every area is handed, on an open database. */
export async function assemble(
  config: Config,
  database: Database,
  now: () => Date = () => new Date(),
  jobsOptions: JobsOptions = {},
): Promise<Service> {
  const { db, pool, url } = database;
  const log = openLog(config);
  const jobs = await startJobs(url, pool, log, jobsOptions);
  const views = loadViews({ dir: viewsDir, checkedIn: checkedViews });
  return { config, db, pool, jobs, views, log, now: standingClock(now) };
}

/**
 * Starts the service: database, migrations, `prepare` (the care library, or the demo farm), jobs, web.
 * Stopping it ends open requests, then jobs, then the database.
 * @param say hears in a sentence what the start waits for; once it runs, the log has what befalls its database
 * @param starting what answers in the service's place until then
 */
export async function start(
  config: Config,
  prepare: (service: Service) => Promise<void>,
  say: (sentence: string) => void,
  starting: Starting | null = null,
): Promise<Running> {
  holdToClock(new Date());
  const log = openLog(config);
  // The program is read while the database starts.
  const program = import('./app.ts');
  let hear = say;
  const database = await openDatabase(config, (sentence) => hear(sentence));
  // What was started is stopped in turn, the latest first: at the end, or where the start fails on its way.
  const started: (() => Promise<unknown>)[] = [() => database.close()];
  const stop = async () => {
    for (let end = started.pop(); end !== undefined; end = started.pop()) await end();
  };
  try {
    const service = await assemble(config, database, undefined, { holdsWork: true });
    started.push(() => service.jobs.stop());
    const [app] = await Promise.all([program.then(({ buildApp }) => buildApp(service)), prepare(service)]);
    started.push(() => app.close());
    for (const doubt of await clockDoubts(service.pool, service.now())) say(doubt);
    await app.ready();
    await starting?.end();
    const place = starting === null ? config : { ...config, HOST: starting.host, PORT: starting.port };
    const address = await listen(app, place);
    await service.jobs.begin();
    hear = (sentence) => log.warn(sentence);
    return { service, app, address, stop };
  } catch (error) {
    await starting?.end();
    await stop();
    throw error;
  }
}

/**
 * Stops cleanly at the first Ctrl-C or SIGTERM, once the start has come to its end; a second one does not wait.
 * @param starting the start, asked for before a signal can come
 */
export function stopOnSignal(starting: Promise<Running>): void {
  let asked = false;
  const end = async () => {
    if (asked) process.exit(1);
    asked = true;
    // A start that fails tells why by itself.
    await starting.then((running) => running.stop()).catch(() => undefined);
    process.exit(0);
  };
  process.on('SIGINT', end);
  process.on('SIGTERM', end);
}
