import { afterAll, beforeAll, expect, test } from 'vitest';
import { addKey } from '../../src/people/keys/keys.ts';
import { saveProbeReports } from '../../src/water/readings/probe-reports.ts';
import { type Bench, startBench } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

let bench: Bench;
let systemId: string;
let key: string;
const kits: string[] = [];
/** The method of the probes, and the site. */
let ids: string[] = [];
const names = ['hall:a', 'hall:b'];

beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench);
  const { db } = bench.service;
  const method = await db.method.create({
    data: { quantityCode: 'temperature', name: 'Probe', absolute: 0.05, everyMinutes: 1, isProbe: true },
  });
  const since = new Date('2026-11-01T00:00:00Z');
  for (const name of names) {
    const { id } = await db.kit.create({ data: { methodId: method.id, label: name, openedAt: since } });
    await db.probeName.create({ data: { name, systemId, kitId: id, createdAt: since } });
    kits.push(id);
  }
  const { id: siteId } = await db.site.findFirstOrThrow();
  ids = [method.id, siteId];
  const owner = await bench.as('owner');
  const data = { name: 'Controller', siteId, scopes: ['readings' as const], days: null, perMinute: 6_000 };
  key = (await bench.change((work) => addKey(work, data), owner.id)).secret;
});
afterAll(() => bench.close());

const start = Date.parse('2026-11-24T06:00:00Z') / 1000;
const sample = (name: string, minute: number, v: number, u = 'Cel') => ({
  ...{ n: name, u, v },
  t: start + 60 * minute,
});

interface Told {
  taken: number;
  present: number;
  rejected: { name: string; value: number }[];
  unknown: string[];
}

async function post(pack: object[], headers: Record<string, string> = {}) {
  const answer = await bench.app.inject({
    method: 'POST',
    url: '/api/v1/senml',
    headers: {
      authorization: `Bearer ${key}`,
      'content-type': 'application/senml+json',
      ...headers,
    },
    payload: JSON.stringify(pack),
  });
  return { status: answer.statusCode, told: answer.json() as Told };
}

const values = async (kit = 0) =>
  (
    await bench.service.db.reading.findMany({ where: { kitId: kits[kit] ?? '' }, orderBy: { at: 'asc' } })
  ).map(({ value }) => value);
const lines = () => bench.service.db.journalLine.count({ where: { kind: 'probes.reported' } });

test('small packs that come at the same time are written together, and each is told what became of its own', async () => {
  const before = await lines();
  const packs = Array.from({ length: 12 }, (_, n) => [
    sample('hall:a', n, 20 + n),
    sample('hall:b', n, 900),
    sample(`hall:new${n}`, n, 1),
  ]);
  const answers = await Promise.all(packs.map((pack) => post(pack)));
  for (const [n, { status, told }] of answers.entries()) {
    expect(status).toBe(200);
    expect(told).toMatchObject({ taken: 1, present: 0, unknown: [`hall:new${n}`] });
    expect(told.rejected).toMatchObject([{ name: 'hall:b', value: 900 }]);
  }
  expect(await values()).toEqual(packs.map((_, n) => 20 + n));
  expect((await lines()) - before).toBeLessThan(packs.length);
  const counted = await bench.service.db.probeDay.findMany({ where: { name: { in: names } } });
  expect(counted.map(({ name, taken, rejected }) => [name, taken, rejected]).sort()).toEqual([
    ['hall:a', 12, 0],
    ['hall:b', 0, 12],
  ]);
});

test('a value that comes in several packs at once, or again later, is one: the first that came', async () => {
  const before = (await values()).length;
  const pack = (v: number) => [sample('hall:a', 100, v), sample('hall:a', 100, v + 1)];
  const answers = await Promise.all([post(pack(25)), post(pack(25)), post(pack(25))]);
  const sum = (of: (told: Told) => number) => answers.reduce((all, { told }) => all + of(told), 0);
  expect(sum(({ taken }) => taken)).toBe(1);
  expect(sum(({ present }) => present)).toBe(5);
  expect((await post(pack(27))).told).toMatchObject({ taken: 0, present: 2 });
  expect((await values()).slice(before)).toEqual([25]);
});

test('large packs that come at the same time wait for each other without a transaction that does', async () => {
  const before = await lines();
  const packs = Array.from({ length: 6 }, (_, n) =>
    Array.from({ length: 600 }, (__, i) => sample('hall:a', -20_000 + n * 600 + i, 25)),
  );
  const answers = await Promise.all(packs.map((pack) => post(pack)));
  expect(answers.map(({ told }) => told.taken)).toEqual(packs.map(() => 600));
  expect((await lines()) - before).toBeLessThanOrEqual(3);
});

test('late values, out of order, are taken', async () => {
  const minutes = [240, -240, 3000, 60.5];
  const { told } = await post(minutes.map((minute) => sample('hall:b', minute - 4000, 24)));
  expect(told).toMatchObject({ taken: 4, present: 0, rejected: [] });
  expect((await values(1)).length).toBe(4);
});

test('a name that is placed on a new instrument while a pack of it waits has the values of that pack kept by the new one', async () => {
  const { db, pool } = bench.service;
  const { methodId } = await db.kit.findUniqueOrThrow({ where: { id: kits[1] ?? '' } });
  const waits = async () => {
    const { rows } = await pool.query<{ n: number }>(
      `SELECT count(*)::int AS n FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'`,
    );
    return rows[0]?.n;
  };
  const { kitId, answer } = await db.$transaction(async (tx) => {
    const kit = await tx.kit.create({ data: { methodId, label: 'hall:b anew', openedAt: new Date(0) } });
    await tx.probeName.update({ where: { name: 'hall:b' }, data: { kitId: kit.id } });
    const posted = post([sample('hall:b', 90, 24.5)]);
    await expect.poll(waits).toBe(1);
    return { kitId: kit.id, answer: posted };
  });
  expect((await answer).told).toMatchObject({ taken: 1, unknown: [] });
  expect(await db.reading.findMany({ where: { kitId } })).toMatchObject([{ value: 24.5 }]);
});

test('saving a few values goes through few of those that are there, however many came since they were counted', async () => {
  const instrument = {
    ...{ name: 'hall:a', systemId, quantityCode: 'temperature', enteredUnit: 'degC' },
    ...{ kitId: kits[0] ?? '', methodId: ids[0] ?? '' },
  };
  const report = (i: number, at: number) => ({
    ...{ instrument, at, value: 25 + i / 1000, uncertainty: 0.05, enteredText: '25', note: '' },
  });
  const begun = Date.UTC(2026, 8, 1);
  const many = Array.from({ length: 3000 }, (_, i) => report(i, begun + i * 60_000));
  const goneThrough = await bench.change(async (work) => {
    work.record('probes.reported', { type: 'site', id: ids[1] ?? '' });
    await saveProbeReports(work, many);
    const read = async () => {
      const [row] = await work.tx.$queryRaw<{ n: number }[]>`
        SELECT (seq_tup_read + idx_tup_fetch)::int AS n FROM pg_stat_xact_user_tables WHERE relname = 'reading'`;
      return row?.n ?? 0;
    };
    const before = await read();
    const again = many.slice(0, 5);
    const anew = Array.from({ length: 5 }, (_, i) => report(i, begun - 3_600_000 * (1 + i)));
    expect(await saveProbeReports(work, [...again, ...anew])).toHaveLength(5);
    return (await read()) - before;
  });
  expect(goneThrough).toBeLessThan(50);
});

test('a pack that cannot be written takes none of the others with it', async () => {
  const { pool } = bench.service;
  await pool.query(`
    CREATE FUNCTION refuse_marked() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN IF NEW.value = 31.25 THEN RAISE EXCEPTION 'the disk refuses this row'; END IF; RETURN NEW; END $$;
    CREATE TRIGGER refuse_marked BEFORE INSERT ON reading FOR EACH ROW EXECUTE FUNCTION refuse_marked()`);
  const before = (await values()).length;
  const answers = await Promise.all(
    [23, 31.25, 24, 26].map((value, n) => post([sample('hall:a', 30 + n, value)])),
  );
  await pool.query('DROP TRIGGER refuse_marked ON reading; DROP FUNCTION refuse_marked');
  expect(answers.map(({ status }) => status)).toEqual([200, 500, 200, 200]);
  expect((await values()).length).toBe(before + 3);
});

test('a key that was ended opens nothing to packs that come after it, however many come at once', async () => {
  const pack = (n: number) => post([sample('hall:a', 500 + n, 25)]);
  await bench.service.db.accessKey.updateMany({ data: { endedAt: bench.service.now() } });
  const answers = await Promise.all([pack(0), pack(1), pack(2), pack(3)]);
  expect(answers.map(({ status }) => status)).toEqual([401, 401, 401, 401]);
  await bench.service.db.accessKey.updateMany({ data: { endedAt: null } });
  // A minute is in the future by the service's clock; the key opens again.
  expect((await pack(0)).told.rejected).toHaveLength(1);
});
