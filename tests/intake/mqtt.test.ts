import type { MqttClient } from 'mqtt';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { filterFault, matches } from '../../src/intake/mqtt/filters.rules.ts';
import { readMessage } from '../../src/intake/mqtt/payloads.rules.ts';
import { readBroker } from '../../src/intake/mqtt/settings.ts';
import { readConfig } from '../../src/platform/config.ts';
import { connect } from '../../src/platform/database.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Broker, startBroker } from '../support/broker.ts';
import { freshDatabase, type TestDatabase } from '../support/database.ts';
import { startProcess } from '../support/processes.ts';
import { type Bench, benchOn, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

let database: TestDatabase;
let broker: Broker;
let bench: Bench;
let manager: Visitor;
let systemId: string;
let device: MqttClient;
const heard: { topic: string; text: string; retain: boolean }[] = [];

const startService = () =>
  benchOn(connect(database.url, 6), { running: true, watching: false, settings: broker.settings });

beforeAll(async () => {
  [database, broker] = await Promise.all([freshDatabase(), startBroker()]);
  bench = await startService();
  systemId = await makeSystem(bench);
  manager = await bench.as('manager');
  device = await broker.visit();
  device.on('message', (topic, payload, { retain }) => heard.push({ topic, text: String(payload), retain }));
  await device.subscribeAsync('evenwater/#', { qos: 1 });
});
afterAll(async () => {
  await device.endAsync(true);
  await bench.close();
  await database.close();
  await broker.close();
});

/** An instrument of a quantity that reports by itself. */
async function probe(quantityCode: string, label: string): Promise<string> {
  const { db } = bench.service;
  const method = await db.method.create({
    data: { quantityCode, name: label, absolute: 0.05, everyMinutes: 1 },
  });
  const openedAt = new Date('2026-11-01T00:00:00Z');
  return (await db.kit.create({ data: { methodId: method.id, label, openedAt } })).id;
}
const kept = (kitId: string) =>
  bench.service.db.reading.findMany({ where: { kitId }, orderBy: { at: 'asc' } });
const values = async (kitId: string) => (await kept(kitId)).map(({ value }) => value);
const add = async (form: Record<string, string>) => {
  const answer = await manager.post('/water/topics', form);
  expect(answer.status, answer.body).toBe(303);
  await listened(form.filter ?? '');
};
const page = async () => (await manager.get('/water/topics')).body;
const send = (topic: string, payload: string | object) =>
  device.publishAsync(topic, typeof payload === 'string' ? payload : JSON.stringify(payload), { qos: 1 });
/** Waits until the broker gives a topic: what is sent on it to see that comes back as one that was heard. */
async function listened(filter: string): Promise<void> {
  const topic = filter.replaceAll('+', 'any').replace('#', 'any');
  await expect
    .poll(async () => {
      await send(topic, 'is anybody there');
      return bench.service.db.mqttHeard.count({ where: { topic } });
    })
    .toBe(1);
}

describe('a topic of a plain number', () => {
  let kitId: string;
  test('is placed where it is added, and what comes on it is kept with the time of its arrival', async () => {
    kitId = await probe('temperature', 'Sump thermometer');
    const began = Date.now();
    await add({ filter: 'farm/sump/temperature', payload: 'number', unit: 'degF', systemId, kitId });
    await send('farm/sump/temperature', '77');
    await expect.poll(() => values(kitId)).toEqual([25]);
    const [reading] = await kept(kitId);
    expect(reading).toMatchObject({
      systemId,
      enteredText: '77',
      enteredUnit: 'degF',
      note: '',
      accountId: null,
    });
    expect(reading?.at.getTime()).toBeGreaterThanOrEqual(began);
    expect(await page()).toContain('Long run, Sump thermometer');
  });

  test('says what could not be read, and why', async () => {
    for (const text of ['warm', '1400', '25,4']) await send('farm/sump/temperature', text);
    await send('farm/sump/temperature', '86');
    await expect.poll(() => values(kitId)).toEqual([25, 30]);
    const told = await page();
    expect(told).toContain('is not a plain number, with a point before its decimals');
    expect(told).toMatch(/Temperature of .* cannot be/);
    expect(told).toContain('25,4');
  });

  test.each([
    [{ filter: 'farm/#/ph', payload: 'number', unit: 'pH' }, 'stands alone and at the end'],
    [{ filter: 'farm/a+/ph', payload: 'number', unit: 'pH' }, 'stands for a whole level'],
    [{ filter: '$SYS/uptime', payload: 'number', unit: 'pH' }, 'belong to the broker itself'],
    [{ filter: 'farm/ph', payload: 'number' }, 'Enter the unit of the numbers'],
    [{ filter: 'farm/+/ph', payload: 'number', unit: 'pH', systemId: 'here' }, 'is placed under Probes'],
    [{ filter: 'farm/ph', payload: 'number', unit: 'pH', kitId: 'here' }, 'is not a unit of temperature'],
    [{ filter: 'farm/sump/temperature', payload: 'senml' }, 'is listened to already'],
  ])('is refused with a sentence: %s', async (form, words) => {
    const here = { ...form, ...('systemId' in form || 'kitId' in form ? { systemId, kitId } : {}) };
    const answer = await manager.post('/water/topics', here);
    expect([409, 422]).toContain(answer.status);
    expect(answer.body).toContain(words);
  });
});

test('+ stands for a level: each topic is a name of its own, placed under Probes like one that posts', async () => {
  const kitId = await probe('ph', 'North pH');
  await add({ filter: 'farm/+/ph', payload: 'number', unit: 'pH' });
  await send('farm/north/ph', '8.1');
  await expect.poll(page).toContain('is not known yet');
  const { version } = await bench.service.db.probeName.findUniqueOrThrow({
    where: { name: 'farm/north/ph' },
  });
  await manager.post('/water/probes', { name: 'farm/north/ph', systemId, kitId, version });
  await send('farm/north/ph', '8.2');
  // What came before it was placed had waited.
  await expect.poll(() => values(kitId)).toEqual([8.1, 8.2]);
});

describe('SenML', () => {
  let kitId: string;
  const at = (n: number) => Date.parse('2026-11-24T07:00:00Z') / 1000 + n;
  test('by a topic and by the web are one door: the same names, the same words, a reading only once', async () => {
    kitId = await probe('temperature', 'Hall thermometer');
    await add({ filter: 'hall/senml', payload: 'senml' });
    await bench.service.db.probeName.create({ data: { name: 'urn:dev:hall:t', systemId, kitId } });
    const pack = [
      { bn: 'urn:dev:hall:', bt: at(0), n: 't', u: 'Cel', v: 24 },
      { n: 't', t: 60, u: '%RH', v: 50 },
    ];
    const web = (await manager.send('/api/senml', pack)).json() as { rejected: { reason: string }[] };
    await send('hall/senml', pack);
    await send('hall/senml', [{ n: 'urn:dev:hall:t', u: 'Cel', t: at(120), v: 24.5 }]);
    await expect.poll(() => values(kitId)).toEqual([24, 24.5]);
    expect(await page()).toContain(web.rejected[0]?.reason.replaceAll('"', '&quot;'));
    const broken: (object | string)[] = [[{ bver: 11, n: 'a', v: 1 }], { n: 'a' }, '{"n":'];
    const words = await Promise.all(
      broken
        .filter((body) => typeof body === 'object')
        .map(async (body) => ((await manager.send('/api/senml', body)).json() as { detail: string }).detail),
    );
    for (const body of broken) await send('hall/senml', body);
    for (const said of [...words, 'That is not valid JSON.']) await expect.poll(page).toContain(said);
  });

  test('that no program should send holds up nothing behind it, and is told of', async () => {
    await add({ filter: 'odd/#', payload: 'senml' });
    const name = 'a'.repeat(5000);
    await send(`odd/${'long'.repeat(200)}`, '25');
    for (const record of [
      { n: name, u: 'Cel', v: 1 },
      { n: 'urn:dev:hall:t', u: 'u'.repeat(9000), v: 1 },
      { n: 'urn:dev:hall:t', u: 'C\u0000l', v: 1 },
    ])
      await send('odd/one', [record]);
    await send('odd/one', '\u0000');
    await send('odd/one', [{ n: 'urn:dev:hall:t', u: 'Cel', t: at(180), v: 24.6 }]);
    await expect.poll(async () => (await values(kitId)).at(-1)).toBe(24.6);
    const told = await page();
    for (const words of [
      'a topic of more than 300 characters',
      'a name of more than 300 characters',
      'is not a unit of temperature',
    ])
      expect(told).toContain(words);
    const web = await manager.send('/api/senml', [{ n: name, u: 'Cel', v: 1 }]);
    expect([web.status, (web.json() as { detail: string }).detail]).toEqual([
      422,
      'Record 1 has a name of more than 300 characters.',
    ]);
  });

  test('that a broker kept as the last of its topic counts only where it says when it was measured', () => {
    const reading = { payload: 'senml', unit: '', silentWord: '' } as const;
    const read = (pack: object) =>
      readMessage(reading, {
        topic: 'a',
        payload: Buffer.from(JSON.stringify([pack])),
        arrivedAt: at(0),
        retained: true,
      });
    expect(read({ n: 't', u: 'Cel', v: 24, t: at(-60) })).toHaveProperty('records');
    expect(read({ n: 't', u: 'Cel', v: 24, t: -60 })).toHaveProperty(
      'fault',
      expect.stringContaining('states no time'),
    );
  });

  test('that waits at the broker while the service is stopped is all there once it runs, and is known to have waited', async () => {
    await bench.close();
    for (let n = 0; n < 50; n++)
      await send('hall/senml', [{ n: 'urn:dev:hall:t', u: 'Cel', t: at(1000 + n), v: 25 + n / 100 }]);
    for (let n = 0; n < 20; n++) await send('farm/north/ph', (8 + n / 100).toFixed(2));
    bench = await startService();
    manager = await bench.as('manager');
    await expect.poll(async () => (await values(kitId)).length).toBe(53);
    const north = await bench.service.db.kit.findFirstOrThrow({ where: { label: 'North pH' } });
    await expect.poll(async () => (await values(north.id)).length).toBe(22);
    const waited = (await kept(north.id)).filter(({ note }) => note.includes('waited at the broker'));
    expect(waited).toHaveLength(20);
    expect((await kept(kitId)).every(({ note }) => note === '')).toBe(true);
  });

  test('of an instance that is killed in the middle is taken over by another: every value once', async () => {
    await bench.close();
    const first = startProcess('src/main.ts', [], {
      ...broker.settings,
      DATABASE_URL: database.url,
      PORT: '0',
      LOG_LEVEL: 'info',
      BACKUPS: 'elsewhere',
    });
    try {
      await first.says(/connected to the broker/);
      bench = await startService();
      manager = await bench.as('manager');
      const count = async () => (await values(kitId)).length - 53;
      const sent = (async () => {
        for (let n = 0; n < 400; n++)
          await send('hall/senml', [{ n: 'urn:dev:hall:t', u: 'Cel', t: at(5000 + n), v: 25 }]);
        for (let n = 0; n < 100; n++) await send('farm/north/ph', '8.4');
      })();
      await expect.poll(count).toBeGreaterThan(20);
      first.kill();
      await sent;
      await expect.poll(count).toBe(400);
      const north = await bench.service.db.kit.findFirstOrThrow({ where: { label: 'North pH' } });
      await expect.poll(async () => (await values(north.id)).length).toBe(122);
    } finally {
      first.kill();
    }
  });
});

test('a device whose last will came is told as silent, until it is back', async () => {
  await add({ filter: 'devices/+/state', payload: 'status' });
  const will = {
    topic: 'devices/hall/state',
    payload: Buffer.from('offline'),
    qos: 1 as const,
    retain: true,
  };
  const controller = await broker.visit({ will });
  await controller.publishAsync('devices/hall/state', 'online', { qos: 1, retain: true });
  controller.stream.destroy();
  await expect.poll(page).toContain('Silent devices');
  // One alert, told where the device's probe is, with since when; it ends when the device is back.
  const { db } = bench.service;
  const told = async () => {
    await evaluateSystems(bench.service, [systemId], new Date());
    return db.alert.findMany({ where: { rule: 'device-silent', clearedAt: null } });
  };
  const [alert, ...others] = await told();
  expect(others).toEqual([]);
  expect(alert).toMatchObject({ systemId, severity: 'today', title: 'Long run: a device is silent' });
  const { silentSince } = await db.mqttHeard.findFirstOrThrow({ where: { topic: 'devices/hall/state' } });
  expect(alert?.finding).toMatchObject({ began: { from: silentSince?.toISOString() } });
  expect((await manager.get('/journal')).body).toContain('Device silent by its last will');
  await send('devices/hall/state', 'online');
  await expect.poll(page).not.toContain('Silent devices');
  expect(await told()).toEqual([]);
});

test('alerts go out as they stand, in plain words, and the service’s own last will says that it is gone', async () => {
  const { db } = bench.service;
  const at = new Date();
  const finding = { severity: 'now', score: 1 };
  const { id } = await db.alert.create({
    data: {
      rule: 'out-of-band',
      subjectType: 'system',
      subjectId: systemId,
      systemId,
      severity: 'now',
      title: 'Temperature is above its band',
      finding,
      worst: 1,
      openedAt: at,
      evaluatedAt: at,
    },
  });
  const last = () => heard.findLast(({ topic }) => topic === `evenwater/alerts/${id}`);
  const told = () => JSON.parse(last()?.text ?? '{}') as Record<string, unknown>;
  await expect.poll(told).toMatchObject({
    id,
    state: 'open',
    urgency: 'now',
    title: 'Temperature is above its band',
    system: { id: systemId, name: 'Long run' },
  });
  // Whoever comes later is told too.
  const later = await broker.visit();
  const found = new Promise<string>((done) => later.on('message', (_, payload) => done(String(payload))));
  await later.subscribeAsync(`evenwater/alerts/${id}`, { qos: 1 });
  expect(JSON.parse(await found)).toMatchObject({ state: 'open' });
  await later.endAsync();
  const before = heard.length;
  await db.alert.update({
    where: { id },
    data: { clearedAt: new Date(), clearedReason: 'back in its band' },
  });
  await expect.poll(told).toMatchObject({ state: 'cleared', clearedReason: 'back in its band' });
  expect(heard.slice(before).filter(({ topic }) => topic.endsWith(id))).toHaveLength(1);
  expect(heard.findLast(({ topic }) => topic === 'evenwater/status')?.text).toBe('online');
  await bench.close();
  await expect.poll(() => heard.findLast(({ topic }) => topic === 'evenwater/status')?.text).toBe('offline');
  bench = await startService();
  manager = await bench.as('manager');
  await expect.poll(() => heard.findLast(({ topic }) => topic === 'evenwater/status')?.text).toBe('online');
});

test('a stop while the service is about to ask the broker waits for no answer', async () => {
  const filter = 'farm/late/temperature';
  const { siteId } = await bench.service.db.system.findUniqueOrThrow({ where: { id: systemId } });
  const other = connect(database.url, 1);
  const holder = await other.pool.connect();
  await holder.query('BEGIN');
  await holder.query('LOCK TABLE mqtt_topic');
  const waiting = async () => {
    const { rows } = await holder.query<{ n: number }>(
      "SELECT count(*)::int AS n FROM pg_locks WHERE relation = 'mqtt_topic'::regclass AND NOT granted",
    );
    return rows[0]?.n;
  };
  await expect.poll(waiting).toBe(1);
  const closed = bench.close();
  await expect.poll(() => heard.findLast(({ topic }) => topic === 'evenwater/status')?.text).toBe('offline');
  await holder.query(
    "INSERT INTO mqtt_topic (id, site_id, filter, payload, unit) VALUES (gen_random_uuid(), $1, $2, 'number', 'degC')",
    [siteId, filter],
  );
  await holder.query('COMMIT');
  await closed;
  holder.release();
  await other.close();
  bench = await startService();
  manager = await bench.as('manager');
  await listened(filter);
});

test('a broker that goes and comes back is found again, and a topic that was removed is heard no more', async () => {
  const kitId = (await bench.service.db.kit.findFirstOrThrow({ where: { label: 'Sump thermometer' } })).id;
  await device.endAsync(true);
  await broker.stop();
  await expect.poll(page).toContain('Not connected');
  await broker.start();
  device = await broker.visit();
  const count = (await values(kitId)).length;
  await expect.poll(page).toContain('Connected since');
  await send('farm/sump/temperature', '68');
  await expect.poll(async () => (await values(kitId)).slice(count)).toEqual([20]);
  const { id } = await bench.service.db.mqttTopic.findFirstOrThrow({
    where: { filter: 'farm/sump/temperature' },
  });
  expect((await manager.post(`/water/topics/${id}/removal`, {})).status).toBe(303);
  await expect.poll(() => bench.service.db.mqttTopic.count({ where: { id } })).toBe(0);
  await send('farm/sump/temperature', '69');
  await send('farm/north/ph', '8.5');
  const north = await bench.service.db.kit.findFirstOrThrow({ where: { label: 'North pH' } });
  await expect.poll(async () => (await values(north.id)).at(-1)).toBe(8.5);
  expect(await values(kitId)).toHaveLength(count + 1);
});

test.each([
  ['a/b', 'a/b', true],
  ['a/+', 'a/b', true],
  ['a/+', 'a/b/c', false],
  ['a/#', 'a/b/c', true],
  ['a/#', 'a', true],
  ['#', '$SYS/uptime', false],
  ['+/monitor', '$SYS/monitor', false],
  ['/+', '/finance', true],
  ['+', '/finance', false],
  ['sport/+', 'sport/', true],
])('MQTT 5, 4.7: %s gives %s: %s', (filter, topic, given) => {
  expect(filterFault(filter)).toBeNull();
  expect(matches(filter, topic)).toBe(given);
});

test.each([
  [{ MQTT_URL: 'http://broker' }, 'begins with mqtt:// or mqtts://'],
  [{ MQTT_URL: 'mqtt://broker/farm' }, 'a name and a port at most'],
  [{ MQTT_URL: 'mqtt://broker', MQTT_TOPIC: 'farm/#' }, 'without +, #'],
  [{ MQTT_PASSWORD: 'x' }, 'MQTT_PASSWORD is set without MQTT_URL'],
  [{ MQTT_URL: 'mqtt://broker', MQTT_PASSWORD: 'x' }, 'needs a name in MQTT_URL'],
  [{ MQTT_URL: 'mqtt://broker', MQTT_CA: '/none' }, 'MQTT_CA is for mqtts:// alone'],
  [{ MQTT_URL: 'mqtts://broker', MQTT_CA: '/none' }, 'MQTT_CA: /none cannot be read'],
  [{ MQTT_URL: 'mqtts://broker', MQTT_CA: 'package.json' }, 'is not a certificate in PEM form'],
])('settings that do not fit are said at the start: %s', (settings, words) => {
  expect(() => readBroker(readConfig(settings))).toThrow(words);
});
