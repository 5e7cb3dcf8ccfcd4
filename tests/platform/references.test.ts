import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Prisma } from '../../src/generated/prisma/client.ts';
import { siteThings } from '../../src/site-things.ts';
import { type Bench, startBench } from '../support/service.ts';

// What the database itself knows of its references: an id that names no row, or a table of a site that the bounds between
// sites do not know, is found here.

let bench: Bench;
beforeAll(async () => {
  bench = await startBench({ care: false, watching: false });
});
afterAll(() => bench.close());

/** Columns that hold the id of another row without the database holding them to it, each with its reason. */
const free: Record<string, string> = {
  'alert.subject_id': 'names a system, kit, rack, lot or lamp: which one says subject_type',
  'journal_line.subject_id': 'names whatever the line is about, also after it was taken away',
  'fact_mark.system_id':
    'written by triggers at each fact, kept for a day, read once: a check at each would cost more',
  'photo.round_entry_id': 'a tablet sends a photo before its entry, or after the entry was refused',
  'reading_pack.least_id': 'names a reading of the pack itself, whose ids are a list there',
  'reading_pack.greatest_id': 'as least_id',
  'round_entry.rack_id': 'a refused entry keeps what was sent, also where it names nothing that is here',
  'round_entry.lot_id': 'as rack_id',
  'round_entry.system_id': 'as rack_id',
};

const unbound = `
  SELECT table_name || '.' || column_name AS name FROM information_schema.columns
    JOIN information_schema.tables USING (table_schema, table_name)
   WHERE table_schema = 'public' AND table_type = 'BASE TABLE' AND column_name LIKE '%\\_id' AND udt_name = 'uuid'
     AND NOT EXISTS (
       SELECT FROM pg_constraint JOIN pg_attribute ON attrelid = conrelid AND attnum = ANY (conkey)
        WHERE contype = 'f' AND conrelid = format('public.%I', table_name)::regclass AND attname = column_name)
   ORDER BY 1`;

test('every id of another row is held to it by the database', async () => {
  const { rows } = await bench.service.pool.query<{ name: string }>(unbound);
  expect(rows.map(({ name }) => name).sort()).toEqual(Object.keys(free).sort());
});

test('what the database does not look up for each reading it holds by the origin of readings', async () => {
  const { rows } = await bench.service.pool.query<{ name: string }>(
    `SELECT conrelid::regclass || '.' || conname AS name FROM pg_constraint WHERE contype = 'f' AND NOT conenforced ORDER BY 1`,
  );
  expect(rows.map(({ name }) => name)).toEqual(
    ['access_key_id', 'kit_id', 'method_id', 'quantity_code', 'system_id'].map(
      (column) => `reading.reading_${column}_fkey`,
    ),
  );
});

describe('a reading that names what is not there', () => {
  const strange = '01890000-0000-7000-8000-000000000001';
  let right: Prisma.ReadingCreateManyInput;

  beforeAll(async () => {
    const { db } = bench.service;
    const names = { canonicalUnit: 'degC', displayUnit: 'degC', possibleLow: 0, possibleHigh: 60 };
    const figures = { plausibleLow: 20, plausibleHigh: 30, decimals: 1, position: 1 };
    const { code } = await db.quantity.create({
      data: { code: 'temperature', name: 'Temperature', ...names, ...figures },
    });
    const site = await db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
    const system = await db.system.create({ data: { siteId: site.id, name: 'Long run', volumeL: 1000 } });
    const method = await db.method.create({ data: { quantityCode: code, name: 'Probe', absolute: 0.1 } });
    const kit = await db.kit.create({ data: { methodId: method.id, label: 'P1', openedAt: new Date(0) } });
    right = {
      ...{ systemId: system.id, quantityCode: code, methodId: method.id, kitId: kit.id },
      ...{ at: new Date('2026-11-24T08:00Z'), value: 25, uncertainty: 0.1 },
      ...{ enteredText: '25', enteredUnit: 'degC' },
    };
  });

  test.each([
    ['system', { systemId: strange }],
    ['quantity', { quantityCode: 'strange' }],
    ['method', { methodId: strange }],
    ['kit', { kitId: strange }],
    ['access key', { accessKeyId: strange }],
  ])('is refused with all that was written with it: %s', async (_, wrong) => {
    const { db } = bench.service;
    await expect(db.reading.createMany({ data: [right, { ...right, ...wrong }] })).rejects.toThrow(
      /foreign key/i,
    );
    expect(await db.reading.count()).toBe(0);
    expect(await db.readingOrigin.count()).toBe(0);
  });

  test('or would name it, is refused; and what a reading names stays', async () => {
    const { db, pool } = bench.service;
    const { id } = await db.reading.create({ data: right });
    await db.reading.createMany({
      data: [right, { ...right, kitId: null }, { ...right, kitId: null, methodId: null }],
    });
    expect(await db.readingOrigin.count()).toBe(3);
    await expect(db.reading.update({ where: { id }, data: { kitId: strange } })).rejects.toThrow(
      /foreign key/i,
    );
    for (const table of ['kit', 'method', 'system', 'quantity', 'reading_origin'])
      await expect(pool.query(`DELETE FROM ${table}`), table).rejects.toThrow(/foreign key|append-only/);
    await expect(pool.query('UPDATE reading_origin SET kit_id = NULL')).rejects.toThrow('append-only');
  });
});

/** Tables of a site that no address, form or list of one site names by id, each with its reason. */
const unnamed: Record<string, string> = {
  access_key: 'listed for owners alone, who belong to every site',
  alert_event: 'told with its alert',
  calendar_feed: 'found by its secret address, or as one’s own',
  care_figure: 'named by its lot and its figure',
  container_level: 'told with its doser',
  kept_apart_reason: 'told with its watch for a pest, or its quarantine',
  order_stage_change: 'told with its order',
  probe_doubt: 'told with its system',
  quarantine: 'told with its tank',
  rack_stand: 'told with its rack',
  reading_origin: 'holds readings to what they name, and is named by nobody',
  rule_setting: 'named by its rule and what it holds for',
  shipment: 'told with its order',
  site_mark: 'one a site, drawn on its labels',
  stocktake_count: 'told with its line',
};

/** Tables with an id whose rows belong to a site by one reference after the other; those of people are the farm's. */
const ofSites = `
  WITH RECURSIVE link AS (
    SELECT conrelid, confrelid FROM pg_constraint
     WHERE contype = 'f' AND connamespace = 'public'::regnamespace AND conrelid <> confrelid
       AND conrelid::regclass::text NOT IN ('journal_line', 'account', 'kind', 'kit')
  ), bound AS (
    SELECT 'site'::regclass::oid AS relation
    UNION SELECT conrelid FROM link JOIN bound ON bound.relation = link.confrelid
  )
  SELECT relation::regclass::text AS name FROM bound
    JOIN pg_attribute ON attrelid = relation AND attname = 'id'
   WHERE relation <> 'site'::regclass ORDER BY 1`;

test('every table whose rows belong to a site is known to the bounds between sites', async () => {
  const { rows } = await bench.service.pool.query<{ name: string }>(ofSites);
  const missing = rows
    .map(({ name }) => name)
    .filter((name) => !new RegExp(`FROM ${name}\\b`).test(siteThings.elsewhere));
  expect(missing).toEqual(Object.keys(unnamed));
});
