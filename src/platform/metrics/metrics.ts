import { createHash, timingSafeEqual } from 'node:crypto';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Registry } from 'prom-client';
import { Refusal } from '../refusal.ts';
import type { Service } from '../service.ts';
import { bearerKey } from '../web/machines.ts';
import type { Figure, ReadFigures } from './figures.ts';
import { jobFigures } from './job-figures.ts';

const prefix = 'evenwater_';
/** Bounds of the times of requests, s: a page is drawn in hundredths, a file in seconds (own choice). */
const buckets = [0.01, 0.05, 0.1, 0.25, 1, 5];

type Library = typeof import('prom-client');

interface Meters {
  library: Library;
  registry: Registry;
}

/**
 * `GET /metrics` for Prometheus, where METRICS_TOKEN is set; without it nobody is told anything. Labels are names of routes,
 * queues and urgencies, which the program knows beforehand: their number does not grow with the farm or with what is asked for.
 * @param reads what each area tells of itself
 */
export async function addMetrics(
  app: FastifyInstance,
  service: Service,
  reads: readonly ReadFigures[],
): Promise<void> {
  const { METRICS_TOKEN } = service.config;
  const meters = METRICS_TOKEN === undefined ? null : await meter(app);
  app.get('/metrics', { config: { bare: true } }, async (request, reply) => {
    if (meters === null) throw closed();
    holdToToken(request, METRICS_TOKEN ?? '');
    const figures = gauges(meters.library, await readAll(service, [jobFigures, ...reads]));
    const text = await meters.library.Registry.merge([meters.registry, figures]).metrics();
    return reply.type(meters.registry.contentType).send(text);
  });
}

const closed = () =>
  new Refusal('Figures for Prometheus are closed. Whoever runs the service opens them with METRICS_TOKEN.', {
    status: 403,
  });

const hashed = (text: string) => createHash('sha256').update(text).digest();

/** @throws Refusal 401 */
function holdToToken(request: FastifyRequest, token: string): void {
  if (timingSafeEqual(hashed(bearerKey(request) ?? ''), hashed(token))) return;
  throw new Refusal('Send the token of METRICS_TOKEN: Authorization: Bearer ...', { status: 401 });
}

/** Counts and times each request by its route as it is registered. */
async function meter(app: FastifyInstance): Promise<Meters> {
  const library = (await import('prom-client')).default;
  const { collectDefaultMetrics, Counter, Histogram, Registry } = library;
  const registry = new Registry();
  collectDefaultMetrics({ register: registry });
  const requests = new Counter({
    name: `${prefix}http_requests_total`,
    help: 'Requests by route and by the hundred of their status.',
    labelNames: ['route', 'status'] as const,
    registers: [registry],
  });
  const times = new Histogram({
    name: `${prefix}http_request_duration_seconds`,
    help: 'From the request to the end of its answer, by route.',
    labelNames: ['route'] as const,
    buckets,
    registers: [registry],
  });
  app.addHook('onResponse', async (request, reply) => {
    // What is no route has one name for all, or whoever makes up addresses would make up labels.
    const route = request.is404 ? 'none' : `${request.method} ${request.routeOptions.url ?? ''}`;
    requests.inc({ route, status: `${Math.floor(reply.statusCode / 100)}xx` });
    times.observe({ route }, reply.elapsedTime / 1000);
  });
  return { library, registry };
}

/** The figures of the database and its pool; while the database is away, those of the pool alone. */
async function readAll({ pool, now, log }: Service, reads: readonly ReadFigures[]): Promise<Figure[]> {
  const connections: Figure = {
    name: 'database_connections',
    help: 'Connections of the pool: idle ones, busy ones, and who waits for one.',
    values: [
      { labels: { state: 'idle' }, value: pool.idleCount },
      { labels: { state: 'busy' }, value: pool.totalCount - pool.idleCount },
      { labels: { state: 'waited for' }, value: pool.waitingCount },
    ],
  };
  const up = (value: number): Figure => ({
    name: 'database_up',
    help: '1 where the database answered all of these figures.',
    values: [{ value }],
  });
  try {
    const read: Figure[] = [];
    for (const one of reads) read.push(...(await one(pool, now())));
    return [connections, up(1), ...read];
  } catch (error) {
    log.warn({ err: error }, 'figures of the database are left out');
    return [connections, up(0)];
  }
}

/** The figures as gauges of one scrape. */
function gauges(library: Library, figures: readonly Figure[]): Registry {
  const registry = new library.Registry();
  for (const { name, help, values } of figures) {
    // A gauge without labels begins at 0, which would be said of what is not known.
    if (values.every(({ value }) => value === null)) continue;
    const labelNames = Object.keys(values[0]?.labels ?? {});
    const gauge = new library.Gauge({ name: `${prefix}${name}`, help, labelNames, registers: [registry] });
    for (const { labels = {}, value } of values) if (value !== null) gauge.set(labels, value);
  }
  return registry;
}
