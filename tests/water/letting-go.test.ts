import { afterAll, beforeAll, expect, test } from 'vitest';
import { loadFarmContext } from '../../src/intake/file/farm-context.ts';
import { previewFile } from '../../src/intake/imports/preview.ts';
import { savePack } from '../../src/intake/senml/senml.ts';
import { listKits } from '../../src/water/kits/kits.ts';
import { letGo } from '../../src/water/probe-days/letting-go.ts';
import { rollUp } from '../../src/water/readings/rollups.ts';
import { type Bucket, sourceParts } from '../../src/water/readings/sources.ts';
import { loadReadings } from '../../src/water/record/record.ts';
import { readForecastHistories } from '../../src/water/system-page/forecast.ts';
import { type Bench, startBench } from '../support/service.ts';

// Values of probes that are let go after their time must leave every figure that is read of them as it was. The clock of
// Lisbon goes back at 01:00 UTC on the last Sunday of October (directive 2000/84/EC); in 2026 that is the 25th.

const [minuteMs, hourMs, dayMs] = [60_000, 3_600_000, 86_400_000];
const first = Date.UTC(2026, 9, 20);
const days = 13;
/** On which 130 days have passed since the last of October. */
const later = new Date('2027-03-12T02:23Z');

let bench: Bench;
let siteId: string;
let systemId: string;
let methodId: string;
let probe: string;
let person: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  bench.at(later.toISOString());
  const { db } = bench.service;
  const site = await db.site.create({
    data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon', probeValueDays: 130 },
  });
  siteId = site.id;
  systemId = (await db.system.create({ data: { siteId, name: 'Long run', volumeL: 1000 } })).id;
  const method = { quantityCode: 'temperature', name: 'Hall probe', absolute: 0.05, isProbe: true };
  methodId = (await db.method.create({ data: { ...method, everyMinutes: 10 } })).id;
  const openedAt = new Date('2026-10-01T00:00Z');
  probe = (await db.kit.create({ data: { methodId, label: 'North', openedAt } })).id;
  person = (
    await db.account.create({
      data: { name: 'Ida', email: 'ida@example.org', passwordHash: 'x', role: 'owner' },
    })
  ).id;
  await write(Array.from({ length: days * 144 }, (_, i) => first + i * 10 * minuteMs));
  await rollUp(bench.service.pool, later);
});
afterAll(() => bench.close());

const valueAt = (ms: number) => 25 + Math.sin(ms / 4_000_000) + ((ms / minuteMs) % 101) / 500;

async function write(times: readonly number[]): Promise<void> {
  await bench.service.pool.query(
    `INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit)
     SELECT gen_random_uuid(), $1, 'temperature', $2, $3, at, value, 0.05, '', 'Cel' FROM unnest($4::timestamptz[], $5::float8[]) AS one(at, value)`,
    [systemId, methodId, probe, times.map((ms) => new Date(ms).toISOString()), times.map(valueAt)],
  );
}

const own = () => bench.service.db.reading.count({ where: { kitId: probe } });
const count = async (at: string) => {
  const from = new Date(at);
  return bench.service.db.reading.count({
    where: { kitId: probe, at: { gte: from, lt: new Date(from.getTime() + dayMs) } },
  });
};

async function chart(from: string, to: string) {
  const question = {
    systemId,
    code: 'temperature',
    timeZone: 'Europe/Lisbon',
    wrong: new Map<string, number>(),
  };
  const [part] = await sourceParts(bench.service.pool, {
    ...question,
    from: new Date(from),
    to: new Date(to),
  });
  return {
    grain: part?.grain,
    count: part?.count,
    buckets: (part?.buckets ?? []).map((bucket: Bucket) => ({ ...bucket, at: bucket.at.toISOString() })),
  };
}

/** What rules, forecasts and charts read. */
async function figures() {
  const { pool } = bench.service;
  const now = new Date('2026-11-24T08:00Z');
  const read = await loadReadings(pool, [systemId], { from: now, now });
  const forecast = await readForecastHistories(pool, { systemIds: [systemId], code: 'temperature', now });
  const facts = read.get(systemId)?.get('temperature') ?? [];
  return {
    facts,
    days: forecast.get(systemId)?.readings,
    byDay: await chart('2026-10-19T23:00Z', '2026-11-01T23:59Z'),
    byHour: await chart('2026-10-23T23:00Z', '2026-10-27T23:59Z'),
  };
}

test('a value of a probe is deleted by nobody but who lets go what its site keeps no longer', async () => {
  const { pool } = bench.service;
  await expect(pool.query('DELETE FROM reading')).rejects.toThrow('reading_kept');
});

test('one value a day stays, the one that rules read; charts, forecasts and rules read the same as before', async () => {
  const { db } = bench.service;
  const before = await figures();
  expect(before.facts).toHaveLength(days);
  expect(before.byDay.grain).toBe('day');
  expect(before.byHour.grain).toBe('hour');
  await letGo(bench.service);
  expect(await own()).toBe(days);
  expect(await figures()).toEqual(before);
  const line = await db.journalLine.findFirstOrThrow({ where: { kind: 'probes.let_go' } });
  expect(line).toMatchObject({ subjectId: siteId, detail: { values: days * 144 - days } });
  // Nothing of it is a change that rules or roll-ups have to look at.
  expect(await db.readingUnrolled.count()).toBe(0);
  await letGo(bench.service);
  expect(await db.journalLine.count({ where: { kind: 'probes.let_go' } })).toBe(1);
});

test('a short time whose values are gone is drawn by the hour and not by the few that stayed', async () => {
  const { grain, buckets } = await chart('2026-10-24T06:20Z', '2026-10-24T09:10Z');
  expect(grain).toBe('hour');
  expect(buckets.map(({ at, count: n }) => [at.slice(11, 16), n])).toEqual([
    ['06:00', 6],
    ['07:00', 6],
    ['08:00', 6],
    ['09:00', 6],
  ]);
});

test('what comes late of such a day changes none of its figures', async () => {
  const before = await figures();
  await write([Date.UTC(2026, 9, 24, 7, 3)]);
  expect((await figures()).byDay).toEqual(before.byDay);
  await rollUp(bench.service.pool, later);
  const after = await figures();
  expect({ ...after, facts: [] }).toEqual({ ...before, facts: [] });
});

test('another clock of the site leaves those days as they were worked out', async () => {
  const { db, pool } = bench.service;
  const final = () =>
    db.readingRollup.findMany({ where: { gone: { gt: 0 } }, orderBy: [{ grain: 'asc' }, { at: 'asc' }] });
  const before = await final();
  expect(before.filter(({ grain }) => grain === 'day')).toHaveLength(days);
  await db.site.update({ where: { id: siteId }, data: { timeZone: 'Asia/Kolkata' } });
  await rollUp(pool, later);
  expect(await final()).toEqual(before);
  await db.site.update({ where: { id: siteId }, data: { timeZone: 'Europe/Lisbon' } });
  await rollUp(pool, later);
});

test('a day stays whole of which somebody said something, or that a file or an alert brought', async () => {
  const { db, pool } = bench.service;
  const start = Date.UTC(2026, 8, 1);
  await write(Array.from({ length: 6 * 144 }, (_, i) => start + hourMs + i * 10 * minuteMs));
  const at = (day: number) =>
    db.reading.findFirstOrThrow({ where: { at: new Date(start + day * dayMs + 5 * hourMs) } });
  const update = async (day: number, data: object) => {
    await db.reading.update({ where: { id: (await at(day)).id }, data });
  };
  await update(0, { voidedAt: later, voidReason: 'out of the water' });
  await update(1, { note: 'pump cleaned' });
  await update(2, { trust: 'unconfirmed' });
  await update(3, { accountId: person });
  const cited = await at(4);
  await db.alert.create({
    data: {
      ...{
        rule: 'out-of-band',
        subjectType: 'system',
        subjectId: systemId,
        systemId,
        severity: 'watch' as const,
      },
      ...{ title: 'Warm', worst: 1, openedAt: later, evaluatedAt: later },
      finding: { evidence: [{ kind: 'reading', id: cited.id }] },
    },
  });
  await rollUp(pool, later);
  await letGo(bench.service);
  const kept = await Promise.all(
    [0, 1, 2, 3, 4, 5].map((day) => count(new Date(start + day * dayMs - hourMs).toISOString())),
  );
  expect(kept.map((n) => n > 100)).toEqual([true, true, true, true, true, false]);
  expect(kept[5]).toBe(1);
});

test('values whose roll-up waits stay until it is done, and those of a site that keeps all for ever stay', async () => {
  const { db, pool } = bench.service;
  const start = Date.UTC(2026, 7, 1);
  await write(Array.from({ length: 144 }, (_, i) => start + hourMs + i * 10 * minuteMs));
  await letGo(bench.service);
  const there = () => count(new Date(start).toISOString());
  expect(await there()).toBeGreaterThan(100);
  await rollUp(pool, later);
  await db.site.update({ where: { id: siteId }, data: { probeValueDays: null } });
  await letGo(bench.service);
  expect(await there()).toBeGreaterThan(100);
  await db.site.update({ where: { id: siteId }, data: { probeValueDays: 130 } });
  await letGo(bench.service);
  expect(await there()).toBeLessThanOrEqual(2);
});

const lineOf = (day: string, value: string) => `${day},Long run,temperature,${value},°C,Hall probe,North`;

test('values that come later than they would be kept are refused with how long that is', async () => {
  const { db } = bench.service;
  await db.probeName.create({ data: { name: 'hall:t', systemId, kitId: probe, createdAt: later } });
  const sent = (daysAgo: number) => ({
    ...{ n: 'hall:t', u: 'Cel', v: 25, timed: true },
    t: (later.getTime() - daysAgo * dayMs) / 1000,
  });
  const told = await bench.change((work) => savePack(work, siteId, [sent(131), sent(129)]));
  expect(told).toMatchObject({
    taken: 1,
    rejected: [{ reason: 'is older than the 130 days for which this site keeps values of probes' }],
  });
});

test('a file brings no value into a day whose figures are final, and says so; others it does', async () => {
  const { db, pool } = bench.service;
  const known = await loadFarmContext(db, await db.site.findFirstOrThrow(), later);
  const rows = [lineOf('2026-10-22 11:11', '24.9'), lineOf('2026-11-20 11:11', '24.9')];
  const text = ['when,system,quantity,value,unit,method,kit', ...rows].join('\n');
  const { lines, questions } = await previewFile(pool, known, new TextEncoder().encode(text), {});
  expect(questions).toEqual([]);
  expect(lines.map(({ state, reason }) => [state, reason])).toEqual([
    [
      'refused',
      'What this probe showed on that day is kept as figures of its hours and the day alone, which stay as they are.',
    ],
    ['taken', ''],
  ]);
});

test('what was read with a kit counts on', async () => {
  const { pool, db } = bench.service;
  const { _sum } = await db.readingRollup.aggregate({ _sum: { gone: true }, where: { grain: 'day' } });
  const kit = (await listKits(pool)).find(({ id }) => id === probe);
  expect(kit?.readings).toBe((await own()) + (_sum.gone ?? 0));
  expect(kit?.readings).toBeGreaterThan(days * 144);
});

test('the chart says where of the oldest days one value each is kept', async () => {
  const { db } = bench.service;
  const owner = await bench.as('owner', 'Rona');
  const caption = async () =>
    (await owner.get(`/water/systems/${systemId}?quantity=temperature&days=365`)).body.includes(
      'Of the oldest days one value each is kept and the figures of their hours and days, as the site is set.',
    );
  expect(await caption()).toBe(true);
  const other = await db.system.create({ data: { siteId, name: 'Deep tank', volumeL: 1000 } });
  expect((await owner.get(`/water/systems/${other.id}?quantity=temperature&days=365`)).body).not.toContain(
    'Of the oldest days',
  );
});

test('the site’s page says for how long every value of a probe is kept, and what it must be', async () => {
  const owner = await bench.as('owner');
  const page = await owner.get('/farm/site');
  expect(page.body).toContain('name="probeValueDays" type="text" value="130"');
  const { version } = await bench.service.db.site.findUniqueOrThrow({ where: { id: siteId } });
  const edit = (probeValueDays: string, of = version) =>
    owner.post('/farm/site', {
      ...{ name: 'Saltgate Yard', timeZone: 'Europe/Lisbon', digestAt: '06:30', currency: '' },
      ...{ probeValueDays, version: String(of) },
    });
  const kept = async () =>
    (await bench.service.db.site.findUniqueOrThrow({ where: { id: siteId } })).probeValueDays;
  const refused = await edit('60');
  expect(refused.status).toBe(422);
  expect(refused.body).toContain('from 130 to 36500');
  expect((await edit('200.5')).body).toContain('as a whole number from 130 to 36500');
  expect(await edit('800')).toMatchObject({ status: 303 });
  expect(await kept()).toBe(800);
  expect(await edit('', version + 1)).toMatchObject({ status: 303 });
  expect(await kept()).toBeNull();
});
