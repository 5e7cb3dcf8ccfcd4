/**
 * How many samples of probes a second the doors take, beside a bare COPY of as many into a narrow table in the same run:
 * part of `npm run bench:intake`. Prints figures, asserts nothing.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { setTimeout } from 'node:timers/promises';
import { Worker } from 'node:worker_threads';
import { from as copyFrom } from 'pg-copy-streams';
import { loadCare } from '../../seed/care.ts';
import { addKey } from '../../src/people/keys/keys.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { startBroker } from '../support/broker.ts';
import { type Bench, benchOn } from '../support/service.ts';
import { packOf, type Sending, type Sent } from './samples/sender.ts';
import { serverTime } from './samples/server-time.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const probes = 50;
const names = Array.from({ length: probes }, (_, i) => `hall:t${i}`);
const start = Date.UTC(2026, 0, 1) / 1000;

/** What a case took: samples a second, and processor time a sample of the service's thread and of PostgreSQL, in ms. */
interface Cost {
  rate: number;
  thread: number;
  server: number;
}

/** What it costs to have so many samples taken. The machine may be busy with other things: processor time hardly shows it. */
async function costOf(work: () => Promise<{ ms: number; taken: number }>): Promise<Cost> {
  const [thread, server] = [process.threadCpuUsage(), serverTime(folder)];
  const { ms, taken } = await work();
  const { user, system } = process.threadCpuUsage(thread);
  return {
    rate: (1000 * taken) / ms,
    thread: (user + system) / 1000 / taken,
    server: (serverTime(folder) - server) / taken,
  };
}

/** A bare table of as many samples by COPY: what this machine's PostgreSQL takes at all. */
async function bareCopy({ service: { pool } }: Bench, count: number): Promise<Cost> {
  await pool.query(
    'CREATE TABLE bench_bare (probe int NOT NULL, at timestamptz NOT NULL, value float8 NOT NULL)',
  );
  const lines = Array.from(
    { length: count },
    (_, i) =>
      `${i % probes}\t${new Date((start + 60 * Math.floor(i / probes)) * 1000).toISOString()}\t${25 + 0.001 * (i % 997)}\n`,
  );
  const text = Array.from({ length: Math.ceil(count / 1000) }, (_, i) =>
    lines.slice(1000 * i, 1000 * (i + 1)).join(''),
  );
  const client = await pool.connect();
  const cost = await costOf(async () => {
    const begun = performance.now();
    await pipeline(Readable.from(text), client.query(copyFrom('COPY bench_bare FROM STDIN')));
    return { ms: performance.now() - begun, taken: count };
  });
  client.release();
  await pool.query('DROP TABLE bench_bare');
  return cost;
}

/** A system with its probes, and a key that may post their values. @returns the key */
async function makeFarm(bench: Bench): Promise<string> {
  const { db, pool } = bench.service;
  await loadCare(pool);
  const site = await db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
  const system = await db.system.create({ data: { siteId: site.id, name: 'Long run', volumeL: 1000 } });
  const method = await db.method.create({
    data: {
      quantityCode: 'temperature',
      name: 'Bench probe',
      absolute: 0.05,
      everyMinutes: 1,
      isProbe: true,
    },
  });
  const createdAt = new Date('2025-12-01T00:00:00Z');
  for (const name of names) {
    const kit = await db.kit.create({ data: { methodId: method.id, label: name, openedAt: createdAt } });
    await db.probeName.create({ data: { name, systemId: system.id, kitId: kit.id, createdAt } });
  }
  const owner = await bench.as('owner');
  const data = {
    name: 'Bench',
    siteId: site.id,
    scopes: ['readings' as const],
    days: null,
    perMinute: 600_000,
  };
  return (await bench.change((work) => addKey(work, data), owner.id)).secret;
}

const sender = new Worker(new URL('./samples/sender.ts', import.meta.url));
const send = (sending: Sending) =>
  new Promise<Sent>((resolve, reject) => {
    sender.once('message', (sent: Sent | { error: string }) =>
      'error' in sent ? reject(new Error(sent.error)) : resolve(sent),
    );
    sender.postMessage(sending);
  });

let bare: Cost = { rate: 0, thread: 0, server: 0 };
function line(what: string, { rate, thread, server }: Cost, times: readonly number[] = []): void {
  const sorted = [...times].sort((a, b) => a - b);
  const at = (share: number) => (sorted[Math.floor((sorted.length - 1) * share)] ?? 0).toFixed(1).padStart(8);
  const answers = times.length === 0 ? '' : `; answered in ${at(0.5)} ms, 99 of 100 in ${at(0.99)}`;
  say(
    `${what.padEnd(30)} ${rate.toFixed(0).padStart(7)} a second  ${(rate / bare.rate).toFixed(3)} of COPY; processor a sample: thread ${(1000 * thread).toFixed(0)} us, PostgreSQL ${(1000 * server).toFixed(0)} us${answers}`,
  );
}

/** Each case begins two months after the last one's first sample, so that none meets what is there. */
let months = 0;
const nextFrom = () => start + 86_400 * 20 * months++;

async function overHttp(url: string, key: string, connections: number, each: number, samples: number) {
  const sending = { url, key, connections, each, names, packs: Math.ceil(samples / each), from: nextFrom() };
  const times: number[] = [];
  const cost = await costOf(async () => {
    const sent = await send(sending);
    times.push(...sent.times);
    return sent;
  });
  line(`${connections} x packs of ${each}`, cost, times);
}

/** Packs of ten on one topic, from the first that is sent to the last that is a row. */
async function overMqtt(bench: Bench, messages: number): Promise<void> {
  const device = await broker.visit();
  const { db } = bench.service;
  const site = await db.site.findFirstOrThrow();
  await db.mqttTopic.create({ data: { siteId: site.id, filter: 'bench/senml', payload: 'senml' } });
  const before = await db.reading.count();
  const sending = { url: '', key: '', connections: 1, packs: messages, each: 10, names, from: nextFrom() };
  const publish = (n: number) =>
    device.publishAsync('bench/senml', JSON.stringify(packOf(sending, n)), { qos: 1 });
  // Until the broker gives the topic.
  while ((await db.mqttHeard.count()) === 0) {
    await device.publishAsync('bench/senml', '[{"n":"unknown","u":"Cel","v":1}]', { qos: 1 });
    await setTimeout(200);
  }
  const cost = await costOf(async () => {
    const begun = performance.now();
    await Promise.all(Array.from({ length: messages }, (_, n) => publish(n)));
    while ((await db.reading.count()) < before + 10 * messages) await setTimeout(20);
    return { ms: performance.now() - begun, taken: 10 * messages };
  });
  line(`MQTT, packs of 10, QoS 1`, cost);
  await device.endAsync(true);
}

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const broker = await startBroker();
const bench = await benchOn(await openDatabase({ EVENWATER_DATA: folder }), {
  running: true,
  watching: false,
  // An answer that is an error shows its body; why stands in the log.
  settings: { ...broker.settings, LOG_LEVEL: 'error' },
});
try {
  const key = await makeFarm(bench);
  const url = `${await bench.app.listen({ host: '127.0.0.1', port: 0 })}/api/senml`;
  say(`${cpus()[0]?.model ?? 'unknown processor'}, ${cpus().length} cores; ${probes} probes`);
  // What is read in at the first request is not counted.
  await send({ url, key, connections: 2, each: 10, packs: 20, names, from: nextFrom() });
  bare = await bareCopy(bench, 100_000);
  line('bare COPY, 100,000 samples', bare);
  await overHttp(url, key, 1, 10, 1_000);
  await overHttp(url, key, 1, 100, 5_000);
  await overHttp(url, key, 4, 1_000, 20_000);
  await overHttp(url, key, 100, 10, 10_000);
  await overMqtt(bench, 500);
  line('bare COPY again', await bareCopy(bench, 100_000));
  const { rows } = await bench.service.pool.query<{ table: number; indexes: number }>(
    `SELECT pg_table_size('reading')::float8 / count(*) AS table, pg_indexes_size('reading')::float8 / count(*) AS indexes FROM reading`,
  );
  say(`a sample takes ${rows[0]?.table.toFixed(0)} bytes, and ${rows[0]?.indexes.toFixed(0)} of indexes`);
} finally {
  await sender.terminate();
  await bench.close();
  await broker.close();
  await rm(folder, { recursive: true, force: true });
}
