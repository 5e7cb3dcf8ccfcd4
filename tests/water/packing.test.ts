import { randomUUID } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { text } from 'node:stream/consumers';
import { isDeepStrictEqual } from 'node:util';
import { to as copyTo } from 'pg-copy-streams';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { writeArchive } from '../../src/backups/archive-writer.ts';
import { restoreInto } from '../../src/backups/restore.ts';
import { bringInFarm } from '../../src/exports/farm/bring-in.ts';
import { farmTables, sheetOut } from '../../src/exports/farm/tables.ts';
import { writeFarm } from '../../src/exports/farm/writer.ts';
import { savePack } from '../../src/intake/senml/senml.ts';
import { onConnection } from '../../src/platform/database/connection.ts';
import { ownTagKeys } from '../../src/tags/record/signing.ts';
import { letGo } from '../../src/water/probe-days/letting-go.ts';
import { packDays } from '../../src/water/probe-days/packing.ts';
import { rollUp } from '../../src/water/readings/rollups.ts';
import { readingSeries } from '../../src/water/readings/series.ts';
import { freshDatabase } from '../support/database.ts';
import { type Bench, benchOn, startBench } from '../support/service.ts';
import { all, allThatIsRead, chartOf } from './all-readers.ts';

// A probe's ended days are kept as lists; whoever reads them must not be able to tell. The clock of Lisbon goes back at
// 01:00 UTC on the last Sunday of October (directive 2000/84/EC); in 2026 that is the 25th.

const [minuteMs, hourMs, dayMs] = [60_000, 3_600_000, 86_400_000];
const now = new Date('2026-11-24T08:00Z');
const first = Date.UTC(2026, 9, 19, 23);
const days = 30;

let bench: Bench;
let siteId: string;
let systemId: string;
let probes: string[];

beforeAll(async () => {
  bench = await startBench({ watching: false });
  const { db } = bench.service;
  siteId = (await db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } })).id;
  systemId = (await db.system.create({ data: { siteId, name: 'Long run', volumeL: 1000 } })).id;
  const method = { quantityCode: 'temperature', absolute: 0.05, isProbe: true, everyMinutes: 20 };
  probes = [];
  for (const label of ['North', 'South']) {
    const { id: methodId } = await db.method.create({ data: { ...method, name: `${label} probe` } });
    const kit = { methodId, label, openedAt: new Date('2026-10-01T00:00Z') };
    probes.push((await db.kit.create({ data: kit })).id);
  }
  await db.probeName.create({ data: { name: 'hall:t', systemId, kitId: probes[0] ?? '', createdAt: now } });
  // One sends on the second, the other whenever it likes, with texts of its own.
  await write(
    0,
    Array.from({ length: days * 72 }, (_, i) => first + i * 20 * minuteMs),
  );
  await write(
    1,
    Array.from({ length: days * 48 }, (_, i) => first + i * 30 * minuteMs + ((i * 7919) % 60_013)),
  );
  // A test by hand among them.
  await bench.service.pool.query(
    `INSERT INTO reading (id, system_id, quantity_code, at, value, uncertainty, entered_text, entered_unit, note)
     VALUES (gen_random_uuid(), $1, 'temperature', $2, 25.5, 0.2, '25.5', 'degC', 'by hand')`,
    [systemId, new Date(first + 9.3 * dayMs)],
  );
  await rollUp(bench.service.pool, now);
});
afterAll(() => bench.close());

const valueAt = (ms: number) =>
  Math.round(100 * (25 + Math.sin(ms / 4_000_000) + ((ms / minuteMs) % 101) / 500)) / 100;

async function write(probe: 0 | 1, times: readonly number[]): Promise<void> {
  await bench.service.pool.query(
    `INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit, created_at)
     SELECT one.id, $1, 'temperature', kit.method_id, kit.id, at, value, 0.05, CASE WHEN $2 THEN value::text ELSE 'T=' || value END, 'Cel', at + lag * interval '1 millisecond'
       FROM kit, unnest($4::uuid[], $5::timestamptz[], $6::float8[], $7::int[]) AS one(id, at, value, lag) WHERE kit.id = $3`,
    [
      ...[systemId, probe === 0, probes[probe], times.map(() => randomUUID())],
      ...[
        times.map((ms) => new Date(ms).toISOString()),
        times.map(valueAt),
        times.map((ms) => Math.floor(ms / 1000) % 977),
      ],
    ],
  );
}

const rows = () => bench.service.db.reading.count({ where: { kitId: { in: probes } } });
const packs = () => bench.service.db.readingPack.count();
const chart = (from: number, to: number) => chartOf(bench, systemId, [from, to]);
const everything = (on = bench) => allThatIsRead(on, { systemId, first, now });

test('ended days become lists, and nobody who reads them can tell', async () => {
  const before = await everything();
  const had = await rows();
  const packed = await packDays({ ...bench.service, now: () => now });
  expect(packed).toBeGreaterThan(1500);
  expect(await rows()).toBe(had - packed);
  expect(await packs()).toBeGreaterThan(20);
  const after = await everything();
  // Thousands of readings: compared by the assertions themselves they take most of a minute.
  for (const name of Object.keys(before) as (keyof typeof before)[])
    expect(isDeepStrictEqual(after[name], before[name]), name).toBe(true);
  // Nothing of it is a change that rules or roll-ups have to look at, and a second night finds nothing to do.
  expect(await bench.service.db.readingUnrolled.count()).toBe(0);
  expect(await packDays({ ...bench.service, now: () => now })).toBe(0);
});

const packedId = async (day: number) => {
  const { rows: found } = await bench.service.pool.query<{ id: string; at: Date }>(
    `SELECT ids[20] AS id, from_at + times[20] * interval '1 millisecond' AS at FROM reading_pack WHERE kit_id = $1 AND from_at <= $2 AND until_at > $2`,
    [probes[0], new Date(first + day * dayMs + hourMs)],
  );
  return found[0] ?? { id: '', at: now };
};

test('a packed value has its page, and what somebody says of it is kept; its day is rows again', async () => {
  const { id } = await packedId(6);
  const owner = await bench.as('owner');
  const had = await packs();
  const page = await owner.get(`/water/readings/${id}`);
  expect(page.status).toBe(200);
  expect(page.body).toContain('Long run');
  expect((await owner.get(`/water/readings/${id}/voiding`)).status).toBe(200);
  expect(await packs()).toBe(had);
  const voided = await owner.post(`/water/readings/${id}/voiding`, { reason: 'out of the water' });
  expect(voided.status).toBe(303);
  expect(await bench.service.db.reading.findUnique({ where: { id } })).toMatchObject({
    voidReason: 'out of the water',
  });
  expect(await packs()).toBe(had - 1);
  // It stays as rows, since somebody spoke of it.
  await rollUp(bench.service.pool, now);
  await packDays({ ...bench.service, now: () => now });
  expect(await packs()).toBe(had - 1);
  // Undoing it undoes what was said and not that it is rows; then it is packed again.
  const undo = await owner.get('/water');
  expect(undo.status).toBe(200);
  const { id: change } = await bench.service.db.undoableChange.findFirstOrThrow({ orderBy: { at: 'desc' } });
  expect(await bench.service.db.undoableRow.count({ where: { changeId: change } })).toBe(1);
  expect((await owner.post(`/undo/${change}`, {})).status).toBe(303);
  expect(await bench.service.db.reading.findUnique({ where: { id } })).toMatchObject({ voidedAt: null });
  await rollUp(bench.service.pool, now);
  await packDays({ ...bench.service, now: () => now });
  expect(await packs()).toBe(had);
});

test('a value of another site is not shown because it is packed', async () => {
  const { db } = bench.service;
  const other = await db.site.create({ data: { name: 'Far end', timeZone: 'Europe/Lisbon' } });
  const { id } = await packedId(7);
  const owner = await bench.as('owner');
  const session = await owner.post(`/sites/${other.id}/look`, {});
  expect(session.status).toBe(303);
  expect((await owner.get(`/water/readings/${id}`)).status).toBe(404);
  expect((await owner.get(`/water/readings/${id}/voiding`)).status).toBe(404);
  expect((await owner.post(`/water/readings/${id}/voiding`, { reason: 'no' })).status).toBe(404);
});

const sent = (at: Date, v: number) => ({ n: 'hall:t', u: 'Cel', v, timed: true, t: at.getTime() / 1000 });

test('a repeat of a packed value is one; a late value makes its day rows again, and none is lost', async () => {
  const { at } = await packedId(8);
  const [had, hadPacks] = [await rows(), await packs()];
  const again = await bench.change((work) => savePack(work, siteId, [sent(at, 20)]));
  expect(again).toMatchObject({ taken: 0 });
  expect([await rows(), await packs()]).toEqual([had, hadPacks]);
  const before = (
    await all(
      readingSeries(bench.service.pool, {
        systemId,
        quantityCode: 'temperature',
        from: new Date(0),
        to: now,
      }),
    )
  ).flat();
  const late = new Date(at.getTime() + 1234);
  const taken = await bench.change((work) => savePack(work, siteId, [sent(late, 20), sent(at, 20)]));
  expect(taken).toMatchObject({ taken: 1 });
  expect(await packs()).toBe(hadPacks - 1);
  await rollUp(bench.service.pool, now);
  await packDays({ ...bench.service, now: () => now });
  expect(await packs()).toBe(hadPacks + (await lateIsApart()));
  const after = (
    await all(
      readingSeries(bench.service.pool, {
        systemId,
        quantityCode: 'temperature',
        from: new Date(0),
        to: now,
      }),
    )
  ).flat();
  expect(after).toHaveLength(before.length + 1);
  expect(after.filter((one) => one.at.getTime() !== late.getTime())).toEqual(before);
});

/** A value that came by another key, unit or factor than the rest of its day has a pack of its own. */
const lateIsApart = async () =>
  (
    await bench.service.db.readingPack.groupBy({
      by: ['kitId', 'fromAt'],
      _count: true,
      having: { nth: { _count: { gt: 1 } } },
    })
  ).length;

test('whoever writes while a day is packed waits, and finds it packed', async () => {
  const { pool } = bench.service;
  const day = first + 20 * dayMs;
  await write(0, [day + 77_000]);
  await rollUp(pool, now);
  const writer = await pool.connect();
  try {
    await writer.query('BEGIN');
    const row = `INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit, created_at)
      SELECT gen_random_uuid(), $1, 'temperature', method_id, id, $3, 24, 0.05, '24', 'Cel', $4 FROM kit WHERE id = $2`;
    await writer.query(row, [systemId, probes[0], new Date(day + 78_000), now]);
    let done = false;
    const packing = packDays({ ...bench.service, now: () => new Date(now.getTime() + 8 * dayMs) }).then(
      () => {
        done = true;
      },
    );
    // Packing waits for the writer, whoever is first.
    await expect
      .poll(
        async () =>
          (await pool.query(`SELECT FROM pg_locks WHERE locktype = 'advisory' AND NOT granted`)).rowCount,
      )
      .toBeGreaterThan(0);
    expect(done).toBe(false);
    await writer.query('COMMIT');
    await packing;
  } finally {
    writer.release();
  }
  const { rows: halves } = await pool.query(
    `SELECT FROM reading_pack AS pack WHERE (SELECT count(*) FROM reading WHERE reading.kit_id = pack.kit_id AND at >= from_at AND at < until_at) <> 1`,
  );
  expect(halves).toEqual([]);
  const there = await pool.query('SELECT FROM reading WHERE at = $1', [new Date(day + 78_000)]);
  expect(there.rowCount).toBe(1);
});

test('another clock of the site has the days made rows and packed by the new ones; nothing changes but them', async () => {
  const { db, pool } = bench.service;
  await rollUp(pool, now);
  const read = async () =>
    (
      await all(readingSeries(pool, { systemId, quantityCode: 'temperature', from: new Date(0), to: now }))
    ).flat();
  const before = await read();
  await db.site.update({ where: { id: siteId }, data: { timeZone: 'Asia/Kolkata' } });
  await rollUp(pool, now);
  expect(await read()).toEqual(before);
  await packDays({ ...bench.service, now: () => now });
  await rollUp(pool, now);
  await packDays({ ...bench.service, now: () => now });
  expect(await packs()).toBeGreaterThan(20);
  const { rows: wrong } = await pool.query(
    `SELECT FROM reading_pack WHERE from_at <> date_trunc('day', from_at, 'Asia/Kolkata')`,
  );
  expect(wrong).toEqual([]);
  expect(await read()).toEqual(before);
  await db.site.update({ where: { id: siteId }, data: { timeZone: 'Europe/Lisbon' } });
  await rollUp(pool, now);
  await packDays({ ...bench.service, now: () => now });
  await rollUp(pool, now);
  await packDays({ ...bench.service, now: () => now });
  expect(await read()).toEqual(before);
});

test('what a site keeps no longer goes out of packs too, with the same figures', async () => {
  const { db } = bench.service;
  const later = new Date('2027-03-12T02:23Z');
  await db.site.update({ where: { id: siteId }, data: { probeValueDays: 130 } });
  const time: [number, number] = [first - dayMs, first + 10.5 * dayMs];
  const before = await chart(...time);
  bench.at(later.toISOString());
  await letGo(bench.service);
  const after = await chart(...time);
  const figures = (parts: typeof before) => parts.find(({ kind }) => kind === 'probe')?.buckets.slice(0, 9);
  expect(figures(after)).toEqual(figures(before));
  const left = await db.readingPack.count({ where: { fromAt: { lt: new Date(first + 10 * dayMs) } } });
  expect(left).toBe(0);
  const { _sum } = await db.readingRollup.aggregate({ _sum: { gone: true }, where: { grain: 'day' } });
  const hours = await db.readingRollup.aggregate({ _sum: { gone: true }, where: { grain: 'hour' } });
  expect(_sum.gone).toBeGreaterThan(800);
  expect(hours._sum.gone).toBe(_sum.gone);
});

test('an archive holds packs as they are, and its sheet of readings each value', async () => {
  const { pool } = bench.service;
  const client = await pool.connect();
  try {
    const { rows: other } = await client.query(`
      WITH again AS (SELECT back.* FROM reading_pack AS pack CROSS JOIN LATERAL json_populate_record(NULL::reading_pack, row_to_json(pack)::text::json) AS back)
      SELECT * FROM again EXCEPT SELECT * FROM reading_pack`);
    expect(other).toEqual([]);
    const reading = (await farmTables(client)).find(({ name }) => name === 'reading');
    if (reading === undefined) throw new Error('no table of readings');
    const sheet = client.query(copyTo(sheetOut(reading, { at: now.toISOString(), tagKeys: [] })));
    const lines = (await text(sheet)).trim().split('\n');
    const { _sum } = await bench.service.db.readingPack.aggregate({ _sum: { readings: true } });
    expect(lines).toHaveLength(1 + (await bench.service.db.reading.count()) + (_sum.readings ?? 0));
  } finally {
    client.release();
  }
});

describe('packed days elsewhere', () => {
  let folder: string;
  let kept: { packs: number; rows: number; all: Awaited<ReturnType<typeof everything>> };
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'evenwater-packs-'));
    kept = { packs: await packs(), rows: await rows(), all: await everything() };
  });
  afterAll(() => rm(folder, { recursive: true, force: true }));

  test.each([
    ['restored from a backup', bringBack],
    ['brought in as an archive', bringAway],
  ])('%s are read as they were, and a late value finds its day', async (_, bring) => {
    const database = await freshDatabase();
    await bring(database.url, folder);
    const there = await benchOn(database, { care: false, watching: false, working: false });
    there.at(bench.service.now());
    try {
      const { db } = there.service;
      expect(kept.packs).toBeGreaterThan(0);
      expect(await db.readingPack.count()).toBe(kept.packs);
      const read = await everything(there);
      for (const name of Object.keys(read) as (keyof typeof read)[])
        expect(isDeepStrictEqual(read[name], kept.all[name]), name).toBe(true);
      const pack = await db.readingPack.findFirstOrThrow({ where: { kitId: probes[0] ?? '' } });
      const late = new Date(pack.fromAt.getTime() + 12 * hourMs + 1234);
      const taken = await there.change((work) => savePack(work, siteId, [sent(late, 20)]));
      expect(taken).toMatchObject({ taken: 1 });
      expect(await db.readingPack.count()).toBe(kept.packs - 1);
      expect(await db.reading.count({ where: { kitId: { in: probes } } })).toBe(
        kept.rows + pack.readings + 1,
      );
    } finally {
      await there.close();
    }
  });
});

const url = () => String(bench.service.pool.options.connectionString);

async function bringBack(to: string, folder: string): Promise<void> {
  const path = join(folder, 'backup.tar.gz');
  await onConnection(url(), (client) => writeArchive(client, path, { now, recipient: null }));
  await restoreInto(to, { path });
}

async function bringAway(to: string, folder: string): Promise<void> {
  const path = join(folder, 'farm.zip');
  const tagKeys = await ownTagKeys(bench.service.db);
  await onConnection(url(), (client) => writeFarm(client, createWriteStream(path), { now, tagKeys }));
  await bringInFarm(to, path, folder, now);
}

test('a pack is changed by nobody', async () => {
  await expect(bench.service.pool.query('UPDATE reading_pack SET readings = 1')).rejects.toThrow(
    'reading_pack_kept',
  );
  await expect(bench.service.pool.query('DELETE FROM reading_pack')).rejects.toThrow('reading_pack_kept');
});
