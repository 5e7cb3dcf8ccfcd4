import { afterAll, beforeAll, expect, test } from 'vitest';
import { loadCare } from '../../seed/care.ts';
import type { Database } from '../../src/platform/database.ts';
import { rollUp } from '../../src/water/readings/rollups.ts';
import { type Bucket, sourceParts } from '../../src/water/readings/sources.ts';
import { readForecastHistories } from '../../src/water/system-page/forecast.ts';
import { emptiedDatabase } from '../support/emptied-database.ts';

// What a chart shows of a probe must be the same whether its values were rolled up or not. What it must be is worked out
// here from the values: the median as the NIST/SEMATECH e-Handbook of Statistical Methods (1.3.5.1) defines it, local days by
// the end of summer time, 01:00 UTC on the last Sunday of October (directive 2000/84/EC).

const now = new Date('2026-11-24T08:00Z');
const [minuteMs, hourMs, dayMs] = [60_000, 3_600_000, 86_400_000];
const endOfSummer = Date.UTC(2026, 9, 25, 1);
const [from, to] = [new Date('2026-10-20T10:25Z'), new Date('2026-11-01T09:00Z')];

interface Value {
  ms: number;
  value: number;
  kitId: string;
}

// No service runs on it, whose job would roll up between two lines of a test.
let base: Database;
let siteId: string;
let systemId: string;
let methodId: string;
let probe: string;
/** What was written and not voided. */
let values: Value[] = [];

beforeAll(async () => {
  base = await emptiedDatabase();
  await loadCare(base.pool);
  const { db } = base;
  const site = await db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
  siteId = site.id;
  systemId = (await db.system.create({ data: { siteId, name: 'Long run', volumeL: 1000 } })).id;
  const method = { quantityCode: 'temperature', name: 'Hall probe', absolute: 0.05, isProbe: true };
  methodId = (await db.method.create({ data: { ...method, everyMinutes: 10 } })).id;
  probe = await addKit('North');
  await write(every10Minutes(0, probe));
});
afterAll(() => base.close());

const addKit = async (label: string) =>
  (
    await base.db.kit.create({
      data: { methodId, label, openedAt: new Date('2026-10-01T00:00Z') },
    })
  ).id;

/** Twelve days and more, swinging with the hour, never twice alike. */
const every10Minutes = (more: number, kitId: string): Value[] =>
  Array.from({ length: 13 * 144 }, (_, i) => ({
    ms: Date.UTC(2026, 9, 20) + i * 10 * minuteMs,
    value: 25 + more + Math.sin(i / 23) + ((i * 7919) % 101) / 500,
    kitId,
  }));

async function write(all: readonly Value[]): Promise<void> {
  values.push(...all);
  const times = all.map(({ ms }) => new Date(ms).toISOString());
  await base.pool.query(
    `INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit)
     SELECT gen_random_uuid(), $1, 'temperature', $2, kit, at, value, 0.05, '', 'Cel'
       FROM unnest($3::uuid[], $4::timestamptz[], $5::float8[]) AS one(kit, at, value)`,
    [systemId, methodId, all.map(({ kitId }) => kitId), times, all.map(({ value }) => value)],
  );
}

const median = (list: readonly number[]): number => {
  const sorted = list.toSorted((a, b) => a - b);
  const half = sorted.length >> 1;
  const upper = sorted[half] ?? Number.NaN;
  return sorted.length % 2 === 1 ? upper : ((sorted[half - 1] ?? Number.NaN) + upper) / 2;
};

const lisbonOffset = (ms: number) => (ms < endOfSummer ? hourMs : 0);
const lisbonDay = (ms: number): number => {
  const midnight = Math.floor((ms + lisbonOffset(ms)) / dayMs) * dayMs;
  return midnight - lisbonOffset(midnight - hourMs);
};
const hourOf = (ms: number) => Math.floor(ms / hourMs) * hourMs;

/** Of each hour or day: how many, the middle of the probes' middles, lowest and highest. */
function expected(
  between: readonly [Date, Date],
  start: (ms: number) => number,
  times: Record<string, number> = {},
) {
  const within = values.filter(({ ms }) => ms >= between[0].getTime() && ms <= between[1].getTime());
  const right = within.map((one) => ({ ...one, value: one.value / (times[one.kitId] ?? 1) }));
  return [...Map.groupBy(right, ({ ms }) => start(ms))]
    .toSorted(([a], [b]) => a - b)
    .map(([ms, all]) => {
      const each = [...Map.groupBy(all, ({ kitId }) => kitId).values()];
      const list = all.map(({ value }) => value);
      return {
        at: new Date(ms).toISOString(),
        count: all.length,
        value: median(each.map((own) => median(own.map(({ value }) => value)))).toFixed(9),
        low: Math.min(...list).toFixed(9),
        high: Math.max(...list).toFixed(9),
      };
    });
}

async function shown(between: readonly [Date, Date], wrong = new Map<string, number>()) {
  const [start, end] = between;
  const question = { systemId, code: 'temperature', from: start, to: end, timeZone: 'Europe/Lisbon', wrong };
  const parts = await sourceParts(base.pool, question);
  expect(parts.map(({ kind }) => kind)).toEqual(['probe']);
  return (parts[0]?.buckets ?? []).map(({ at, count, value, low, high }: Bucket) => ({
    ...{ at: at.toISOString(), count, value: value.toFixed(9) },
    ...{ low: low.toFixed(9), high: high.toFixed(9) },
  }));
}

const twelveDays = [from, to] as const;
const fiveDays = [new Date('2026-10-23T10:25Z'), new Date('2026-10-28T09:00Z')] as const;

async function expectAllAlike(): Promise<void> {
  expect(await shown(twelveDays)).toEqual(expected(twelveDays, lisbonDay));
  expect(await shown(fiveDays)).toEqual(expected(fiveDays, hourOf));
}

const rolled = () => rollUp(base.pool, now);
const unrolled = () => base.db.readingUnrolled.count();

test('a chart of a probe shows the same before and after its values are rolled up, also where summer time ends', async () => {
  await expectAllAlike();
  expect(await unrolled()).toBeGreaterThan(0);
  await rolled();
  expect(await unrolled()).toBe(0);
  const { db } = base;
  expect(await db.readingRollup.count({ where: { grain: 'day' } })).toBe(13);
  await expectAllAlike();
});

test('a roll-up tells the lowest, highest, mean and last value of its day', async () => {
  const at = new Date(lisbonDay(endOfSummer));
  const day = await base.db.readingRollup.findFirstOrThrow({ where: { grain: 'day', at } });
  const own = values.filter(({ ms }) => lisbonDay(ms) === at.getTime());
  // The day on which summer time ends has 25 hours.
  expect(own).toHaveLength(25 * 6);
  expect(day).toMatchObject({ readings: 150, standing: 150, last: own.at(-1)?.value, kitId: probe });
  expect(day.low).toBe(Math.min(...own.map(({ value }) => value)));
  expect(day.high).toBe(Math.max(...own.map(({ value }) => value)));
  expect(day.mean).toBeCloseTo(own.reduce((sum, { value }) => sum + value, 0) / 150, 9);
});

test('what comes late and what is voided shows at once, and is rolled up with nothing else', async () => {
  const late = Date.UTC(2026, 9, 24, 7, 3);
  await write([{ ms: late, value: 31, kitId: probe }]);
  await expectAllAlike();
  const { db } = base;
  const wrong = await db.reading.findFirstOrThrow({ where: { systemId, at: new Date('2026-10-26T12:00Z') } });
  await db.reading.update({
    where: { id: wrong.id },
    data: { voidedAt: now, voidReason: 'out of the water' },
  });
  values = values.filter(({ ms }) => ms !== wrong.at.getTime());
  await expectAllAlike();
  const before = await versions();
  await rolled();
  await expectAllAlike();
  const after = await versions();
  const changed = [...after].filter(([key, version]) => before.get(key) !== version).map(([key]) => key);
  expect(changed.sort()).toEqual([
    'day 2026-10-23 23:00',
    'day 2026-10-26 00:00',
    'hour 2026-10-24 07:00',
    'hour 2026-10-26 12:00',
  ]);
});

/** When each roll-up was last written. */
async function versions(): Promise<Map<string, string>> {
  const { rows } = await base.pool.query<{ key: string; version: string }>(
    `SELECT grain || to_char(at AT TIME ZONE 'UTC', ' YYYY-MM-DD HH24:MI') AS key, xmin::text || ctid::text AS version FROM reading_rollup`,
  );
  return new Map(rows.map(({ key, version }) => [key, version]));
}

test('a value that is being written while others are rolled up is not lost', async () => {
  const { pool } = base;
  const writer = await pool.connect();
  const one = { ms: Date.UTC(2026, 9, 27, 3, 4), value: 19, kitId: probe };
  await writer.query('BEGIN');
  await writer.query(
    `INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit)
     VALUES (gen_random_uuid(), $1, 'temperature', $2, $3, $4, $5, 0.05, '', '')`,
    [systemId, methodId, probe, new Date(one.ms), one.value],
  );
  await write([{ ms: Date.UTC(2026, 9, 27, 3, 5), value: 20, kitId: probe }]);
  await rolled();
  await writer.query('COMMIT');
  writer.release();
  values.push(one);
  await expectAllAlike();
  await rolled();
  await expectAllAlike();
});

test('what comes while others are rolled up waits for the next time, so that one that sends without end holds up nothing', async () => {
  const { pool } = base;
  let asked = 0;
  const sendsWithEachQuestion = {
    query: async (text: string, given?: unknown[]) => {
      asked += 1;
      await write([{ ms: Date.UTC(2026, 9, 23, 4, asked), value: 22, kitId: probe }]);
      return pool.query(text, given);
    },
  } as typeof pool;
  await write([{ ms: Date.UTC(2026, 9, 23, 4, 59), value: 21, kitId: probe }]);
  await rollUp(sendsWithEachQuestion, now);
  expect(asked).toBeLessThanOrEqual(2);
  expect(await unrolled()).toBe(1);
  await expectAllAlike();
  await rolled();
  expect(await unrolled()).toBe(0);
  await expectAllAlike();
});

test('of several probes the middle of their middles is shown, each without what its kit reads wrong', async () => {
  const south = await addKit('South');
  await write(every10Minutes(2, south));
  const wrong = new Map([[south, 1.1]]);
  const alike = async () => {
    await expectAllAlike();
    expect(await shown(twelveDays, wrong)).toEqual(expected(twelveDays, lisbonDay, { [south]: 1.1 }));
  };
  await alike();
  await rolled();
  await alike();
});

test('a forecast is made from the same days before and after', async () => {
  const { pool, db } = base;
  const history = async () =>
    (await readForecastHistories(pool, { systemIds: [systemId], code: 'temperature', now: to })).get(
      systemId,
    );
  const days = async () => (await history())?.readings.map(({ day, value }) => [day, value.toFixed(9)]);
  const asExpected = () =>
    expected([new Date('2026-10-01T00:00Z'), to], lisbonDay).map(({ at, value }) => {
      const own = values.filter(({ ms }) => lisbonDay(ms) === Date.parse(at) && ms <= to.getTime());
      return [Math.max(...own.map(({ ms }) => ms)) / dayMs, value];
    });
  expect(await days()).toEqual(asExpected());
  await write([{ ms: Date.UTC(2026, 9, 28, 3, 3), value: 12, kitId: probe }]);
  expect(await days()).toEqual(asExpected());
  await rolled();
  expect(await days()).toEqual(asExpected());
  // Bounds and unconfirmed values count for nothing, and a probe without a vote from when it has none.
  const at = (day: number) => new Date(Date.UTC(2026, 9, day, 5, 5));
  const other = {
    systemId,
    quantityCode: 'temperature',
    methodId,
    kitId: probe,
    uncertainty: 0.05,
    value: 40,
  };
  const entered = { enteredText: '', enteredUnit: 'Cel' };
  await db.reading.createMany({
    data: [
      { ...other, ...entered, at: at(22), aboveScale: true },
      { ...other, ...entered, at: at(23), trust: 'unconfirmed' as const },
    ],
  });
  expect(await days()).toEqual(asExpected());
  await rolled();
  expect(await days()).toEqual(asExpected());
  const since = new Date('2026-10-26T15:00Z');
  await db.probeDoubt.create({
    data: {
      ...{ systemId, quantityCode: 'temperature', methodId, kitId: probe },
      label: '',
      since,
      words: '',
    },
  });
  const all = values;
  values = values.filter(({ ms, kitId }) => kitId !== probe || ms < since.getTime());
  expect(await days()).toEqual(asExpected());
  values = all;
  await db.reading.updateMany({
    where: { at: { in: [at(22), at(23)] } },
    data: { voidedAt: now, voidReason: 'made up' },
  });
});

test('tests by hand stay what they are between the values of a probe', async () => {
  const { pool, db } = base;
  const byHand = await db.method.create({
    data: { quantityCode: 'temperature', name: 'Glass thermometer', absolute: 0.1 },
  });
  const kit = await db.kit.create({
    data: { methodId: byHand.id, label: 'Glass 1', openedAt: new Date('2026-10-01T00:00Z') },
  });
  const test = { systemId, quantityCode: 'temperature', value: 25.3, uncertainty: 0.1, enteredUnit: '°C' };
  const at = (day: number) => new Date(Date.UTC(2026, 9, day, 12));
  await db.reading.createMany({
    data: [
      { ...test, enteredText: '25.3', at: at(21), methodId: byHand.id, kitId: kit.id },
      { ...test, enteredText: '25.4', at: at(22), methodId: byHand.id },
      { ...test, enteredText: '25.5', at: at(23) },
    ],
  });
  const question = { systemId, code: 'temperature', from, to, timeZone: 'Europe/Lisbon', wrong: new Map() };
  const [first, second] = await sourceParts(pool, question);
  expect(first).toMatchObject({ kind: 'hand', count: 3, grain: 'reading' });
  expect(first?.readings.map(({ enteredText }) => enteredText)).toEqual(['25.3', '25.4', '25.5']);
  expect(second).toMatchObject({ kind: 'probe', grain: 'day' });
  // Its kit says of a method that it reports by itself from now on: what it read is rolled up with the others.
  await db.method.update({ where: { id: byHand.id }, data: { everyMinutes: 60 } });
  await rolled();
  const parts = await sourceParts(pool, question);
  expect(parts.map(({ kind, count }) => [kind, count])).toEqual([
    ['hand', 1],
    ['probe', (second?.count ?? 0) + 2],
  ]);
  await db.method.update({ where: { id: byHand.id }, data: { everyMinutes: null } });
});

test('where the site’s clock is set to another zone, its days and hours are rolled up anew', async () => {
  await base.db.site.update({ where: { id: siteId }, data: { timeZone: 'Asia/Kolkata' } });
  // India Standard Time is UTC+5:30 all the year.
  const ahead = 5.5 * hourMs;
  const floor = (step: number) => (ms: number) => Math.floor((ms + ahead) / step) * step - ahead;
  const alike = async () => {
    const days = (await probes(twelveDays)).map(({ at }) => at);
    expect(days).toEqual(expected(twelveDays, floor(dayMs)).map(({ at }) => at));
    expect(await probes(fiveDays)).toEqual(expected(fiveDays, floor(hourMs)));
  };
  await alike();
  await rolled();
  await alike();
});

/** As `shown`, beside tests by hand. */
async function probes([start, end]: readonly [Date, Date]) {
  const question = { systemId, code: 'temperature', from: start, to: end, timeZone: 'Asia/Kolkata' };
  const parts = await sourceParts(base.pool, { ...question, wrong: new Map() });
  return (parts.find(({ kind }) => kind === 'probe')?.buckets ?? []).map((bucket) => ({
    ...{ at: bucket.at.toISOString(), count: bucket.count, value: bucket.value.toFixed(9) },
    ...{ low: bucket.low.toFixed(9), high: bucket.high.toFixed(9) },
  }));
}
