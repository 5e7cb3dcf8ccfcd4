import type pg from 'pg';
import type { Logger } from 'pino';
import type { Prisma, PrismaClient } from '../generated/prisma/client.ts';
import type { Config } from './config.ts';
import type { Jobs } from './jobs.ts';
import type { Views } from './views.ts';

/** A transaction of the Prisma client: the first argument of everything that writes. */
export type Tx = Prisma.TransactionClient;

/** What only reads takes either. */
export type Reader = PrismaClient | Tx;

/** What the areas are built from. `now` is the one clock; tests pass their own. */
export interface Service {
  config: Config;
  db: PrismaClient;
  pool: pg.Pool;
  jobs: Jobs;
  views: Views;
  log: Logger;
  now(): Date;
}
