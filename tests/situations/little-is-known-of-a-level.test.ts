import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Finding } from '../../src/alerts/finding.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSite } from '../water/farm.ts';

// A first reading, a bound, a repeat that never came, an ammonia without its pH, a probe that two tests contradict: what
// is known is said, and no more. The order of first steps, "two systems, or one other kit", a pH of 7.2 and oxygen of
// 3.3 mg/L as edges of danger are common practice, no source; all values invented.

let bench: Bench;
let hand: Visitor;
let siteId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hand = await bench.as('manager');
  siteId = await makeSite(bench);
});
afterAll(() => bench.close());

const on = (day: number, clock = '08:00') => `2026-11-${String(day).padStart(2, '0')}T${clock}:00Z`;

async function system(name: string, bands: Record<string, [number | null, number | null]> = {}) {
  const targets = Object.entries(bands).map(([quantityCode, [bandLow, bandHigh]]) => ({
    ...{ quantityCode, bandLow, bandHigh },
  }));
  const data = { siteId, name, volumeL: 700, targets: { create: targets } };
  return (await bench.service.db.system.create({ data })).id;
}

async function enter(systemId: string, at: string, quantityCode: string, text: string, more: object = {}) {
  bench.at(at);
  const readings = [{ quantityCode, text, sure: true, ...more }];
  const answer = await hand.send('/api/readings', { systemId, at: at.slice(0, 16), readings });
  expect(answer.status, answer.body).toBe(201);
  const { readings: kept } = answer.json() as { readings: { trust: string; reason: string }[] };
  return kept[0] as { trust: string; reason: string };
}

async function usual(systemId: string, quantityCode: string, values: readonly string[]) {
  for (const [i, value] of values.entries()) await enter(systemId, on(1 + i), quantityCode, value);
}

async function alertsAt(systemId: string, at: string) {
  bench.at(at);
  await evaluateSystems(bench.service, [systemId], new Date(at));
  const open = await bench.service.db.alert.findMany({ where: { systemId, clearedAt: null } });
  return open.map(({ id, severity, finding }) => ({ ...(finding as unknown as Finding), id, severity }));
}

const text = (body: string) => body.replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');

describe('the first reading of a water without bands', () => {
  test('beyond the safe range is asked for again at once, and a repeat that differs ends it', async () => {
    const systemId = await system('First pH');
    const first = await enter(systemId, on(4), 'ph', '7.2');
    expect(first).toMatchObject({
      trust: 'unconfirmed',
      reason: '7.20 is below the safe range, 7.70 to 8.60.',
    });
    const [alert] = await alertsAt(systemId, on(4, '08:05'));
    expect(alert).toMatchObject({ severity: 'now', doubted: true });
    expect(alert?.title).toContain('reads below the safe range, unconfirmed: test now');
    expect(alert?.firstStep).toMatch(/by 09:00.*outside air/);
    await enter(systemId, on(4, '08:20'), 'ph', '8.1');
    expect(await alertsAt(systemId, on(4, '08:25'))).toEqual([]);
  });

  test('a second one that says the same is what is known, with the steps of the acute state in one unit', async () => {
    const systemId = await system('Metal');
    await enter(systemId, on(4), 'copper', '55', { unit: 'ug/L' });
    await enter(systemId, on(4, '08:30'), 'copper', '61', { unit: 'ug/L' });
    const [alert] = await alertsAt(systemId, on(4, '08:35'));
    expect(alert).toMatchObject({ severity: 'now', doubted: false });
    expect(alert?.why).toContain('µg/L');
    expect(`${alert?.firstStep} ${alert?.why}`).not.toContain('this farm');
    expect(alert?.firstStep).toContain('below 10 µg/L');
    expect(alert?.firstStep).not.toMatch(/\bmg\/L/);
  });
});

test('a repeat that did not come in its hour is asked for at once, with when it was due', async () => {
  const systemId = await system('Night');
  await usual(systemId, 'oxygen', ['6.8', '6.7', '6.8']);
  await enter(systemId, on(4, '05:30'), 'oxygen', '3.3');
  const before = await alertsAt(systemId, on(4, '05:40'));
  expect(before[0]?.firstStep).toContain('test again within the hour, by 06:30');
  const [late] = await alertsAt(systemId, on(4, '09:40'));
  expect(late?.severity).toBe('now');
  expect(late?.firstStep).toMatch(
    /^Act now: test again at once, .*; it was due by 4 Nov 06:30\. Turn air stones on/,
  );
});

describe('a bound is said as one', () => {
  test('below detection: no value, no plus and minus, and no distance that nobody knows', async () => {
    const systemId = await system('Bound low', { phosphate: [0.03, 0.1] });
    await usual(systemId, 'phosphate', ['<0.02', '<0.02', '<0.02', '<0.02']);
    const [alert] = await alertsAt(systemId, on(5));
    expect(alert?.numbers).toBe('< 0.020 mg/L as PO₄; band 0.030 to 0.100 mg/L as PO₄');
    expect(alert?.number.text).toBe('< 0.020');
    expect(alert?.figures.map(({ text: words }) => words).join()).not.toContain('±');
    // 0.01 below its edge is what is known, and not grave; 0.02 would be half of what the test cannot see.
    expect(alert?.severity).toBe('watch');
    // A repeat has said the same: what is left open is whether the kit is right.
    expect(alert?.firstStep).toContain('Test with another kit too');
    const page = text((await hand.get(`/water/systems/${systemId}?quantity=phosphate&days=30`)).body);
    expect(page).toContain('4 readings, all &lt; 0.020 mg/L as PO₄');
    expect(page).not.toContain('0.010 mg/L');
  });

  test('above the scale: more than it, and the sample is diluted first', async () => {
    const systemId = await system('Bound high', { alkalinity: [2.7, 3.2] });
    await usual(systemId, 'alkalinity', ['8.3', '8.2', '8.3']);
    await enter(systemId, on(4), 'alkalinity', '>20');
    await enter(systemId, on(4, '08:20'), 'alkalinity', '>20');
    const [alert] = await alertsAt(systemId, on(4, '08:25'));
    expect(alert?.numbers).toMatch(/^> 20\.0 dKH; /);
    expect(alert?.figures.map(({ text: words }) => words).join()).not.toContain('±');
    expect(alert?.firstStep).toContain('Dilute the sample and test again');
  });

  test('what no test can tell from the band is not counted as inside it', async () => {
    const systemId = await system('Finer band', { phosphate: [0.005, 0.015] });
    await usual(systemId, 'phosphate', ['<0.02', '<0.02']);
    const page = text((await hand.get(`/water/systems/${systemId}?quantity=phosphate&days=30`)).body);
    expect(page).toContain('none surely lies outside');
    expect(page).toContain('Cannot be known with this test');
  });
});

test('ammonia without a pH may harm: the pH is asked for, and what it would mean is said as such', async () => {
  const systemId = await system('No pH');
  await enter(systemId, on(4), 'ammonia', '0.9');
  const [alert] = await alertsAt(systemId, on(4, '08:05'));
  expect(alert?.title).toContain('ammonia may harm: its pH is unknown');
  expect(alert?.numbers).toMatch(/un-ionised if the pH is 8\.3$/);
  expect(alert?.firstStep).toMatch(/Turn air on.*Read the pH now/);
  await enter(systemId, on(4, '08:10'), 'ph', '8.2');
  const [known] = await alertsAt(systemId, on(4, '08:15'));
  expect(known?.title).toContain('ammonia is at a harmful level');
  expect(known?.numbers).not.toContain('if the pH');
});

test('two tests by hand against a probe: the correction rests on them, no speed is made of both, and the day of a probe has no hour', async () => {
  const systemId = await system('Stuck', { salinity: [34, 36] });
  const { db } = bench.service;
  const label = `salt-${randomUUID().slice(0, 6)}`;
  const made = { quantityCode: 'salinity', name: label, absolute: 0.3, everyMinutes: 20 };
  const kit = await db.kit.create({
    data: { methodId: (await db.method.create({ data: made })).id, label, openedAt: new Date('2026-10-01') },
  });
  await db.probeName.create({ data: { name: label, systemId, kitId: kit.id } });
  bench.at(on(5, '08:00'));
  const start = Date.parse(on(1)) / 1000;
  const pack = Array.from({ length: 288 }, (_, i) => ({ n: label, u: 'PSU', t: start + i * 1200, v: 35.1 }));
  expect((await hand.send('/api/senml', pack)).status).toBe(200);
  const { id: methodId } = await db.method.findFirstOrThrow({
    where: { quantityCode: 'salinity', name: 'refractometer' },
  });
  await enter(systemId, on(5, '08:30'), 'salinity', '31.5', { methodId });
  await enter(systemId, on(5, '09:00'), 'salinity', '31.3', { methodId });
  const alerts = await alertsAt(systemId, on(5, '09:05'));
  const level = alerts.find(({ rule }) => rule === 'out-of-band');
  expect(level?.severity).toBe('now');
  expect(level?.firstStep).not.toContain(label);
  expect(level?.firstStep).toContain('Raise it by 1 to 2 a day');
  expect(level?.figures.map((one) => one.label).join()).not.toContain('speed');
  const probe = alerts.find(({ rule }) => rule === 'probe-unwell');
  expect(text((await hand.get(`/watch/${probe?.id}`)).body)).toMatch(/under 1 h/);
  const page = text((await hand.get(`/water/systems/${systemId}?quantity=salinity&days=30`)).body);
  expect(page.slice(page.indexOf('Salinity in Stuck'))).toMatch(
    /readings by a probe, all 35\.1 PSU, the last 35\.1 PSU on 5 Nov, shown/,
  );
});

test('both of two systems that sink together are one matter, and one that sinks alone is not', async () => {
  const [rill, sand] = [await system('Rill'), await system('Sand')];
  const calm = ['8.15', '8.12', '8.16', '8.14', '8.15'];
  for (const one of [rill, sand])
    for (const [i, value] of calm.entries()) await enter(one, on(15 + i), 'ph', value);
  await enter(rill, on(20), 'ph', '7.7');
  const together = async () =>
    (await alertsAt(rill, on(20, '08:20'))).filter(({ rule }) => rule === 'moving-together');
  expect(await together()).toEqual([]);
  await enter(sand, on(20, '08:10'), 'ph', '7.72');
  expect(await together()).toMatchObject([
    // As urgent as each by itself: 0.4 below its own values of other days.
    { severity: 'now', title: 'pH falls in Rill and Sand together: look for one cause' },
  ]);
});

describe('what leads the wrong way', () => {
  const wrong: [
    code: string,
    level: string,
    band: [number, number],
    act: (systemId: string) => Promise<{ status: number }>,
  ][] = [
    [
      ...(['alkalinity', '9.6', [2.7, 3.2]] as [string, string, [number, number]]),
      (systemId) =>
        hand.send('/api/doses', {
          ...{ systemId, substance: 'sodium bicarbonate', amount: 12, unit: 'g' },
          reason: 'read the band wrong',
        }),
    ],
    [
      ...(['salinity', '32.9', [34, 36]] as [string, string, [number, number]]),
      (systemId) => hand.send('/api/water-changes', { systemId, amount: 2, unit: '%', water: 'purified' }),
    ],
    [
      ...(['temperature', '23.4', [24, 26]] as [string, string, [number, number]]),
      (systemId) => hand.post('/farm/switched-off', { systemId, pick: 'thing:heating', why: 'Cleaning' }),
    ],
  ];
  test.each(wrong)('is no answer to an alert on %s of %s', async (code, level, band, act) => {
    const systemId = await system(`Wrong way: ${code}`, { [code]: band });
    await usual(systemId, code, [level, level, level, level]);
    const told = async (at: string) => (await alertsAt(systemId, at)).find(({ facet }) => facet === code);
    const before = await told(on(5));
    expect(before?.answer).toBeNull();
    bench.at(on(5, '09:00'));
    expect((await act(systemId)).status).toBeLessThan(304);
    const after = await told(on(5, '09:05'));
    expect(after?.answer, after?.title).toBeNull();
    expect(after?.title).not.toContain('Acted on');
    // Once a dose of it is logged there is one to stop.
    if (code === 'alkalinity') expect(after?.firstStep).toMatch(/^Stop or lower the dosing/);
    else expect(after?.firstStep).toBe(before?.firstStep);
  });

  test('and what leads the right way is one', async () => {
    const systemId = await system('Right way', { salinity: [34, 36] });
    await usual(systemId, 'salinity', ['32.9', '32.9', '32.9']);
    expect((await alertsAt(systemId, on(5)))[0]?.answer).toBeNull();
    bench.at(on(5, '09:00'));
    await hand.post('/farm/switched-off', { systemId, pick: 'thing:top_up', why: 'Float stuck' });
    expect((await alertsAt(systemId, on(5, '09:05')))[0]?.answer).toMatchObject({
      confirm: 'a test of salinity',
    });
  });
});

test('a nutrient that was read once says so on its page, and is not called never read', async () => {
  const systemId = await system('Once', { nitrate: [2, 12] });
  await enter(systemId, on(4), 'nitrate', '40');
  const page = text((await hand.get(`/water/systems/${systemId}/nutrients`)).body);
  expect(page).toContain('Nitrate read 40.0 mg/L as NO₃ and was not repeated yet');
  expect(page).not.toContain('never read');
});
