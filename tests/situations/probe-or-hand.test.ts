import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Finding } from '../../src/alerts/finding.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { loadFacts } from '../../src/watch/facts/facts.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// Thermometers at 31.5 degC beside a probe stuck at 25.1, and pH 7.85 by hand beside a probe that stood within 0.01 of 8.41
// for 62 hours (keepers' reports, values as reported). That a value too steady is a fault of its own, and the limit of
// 1.96 combined standard uncertainties between two methods: ocean observers' quality manual (QARTOD, flat line test), ISO 5725-6.

let bench: Bench;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

const hourMs = 3_600_000;
const begin = Date.parse('2026-11-16T00:00:00Z');
const after = (hours: number) => new Date(begin + hours * hourMs).toISOString();

const minuteOf = (hours: number) => after(hours).slice(0, 16);

const methodOf = async (quantityCode: string, name: string) =>
  (await bench.service.db.method.findFirstOrThrow({ where: { quantityCode, name } })).id;

/** A probe that reports by itself, placed in a system. */
async function placeProbe(systemId: string, quantityCode: string, absolute: number) {
  const { db } = bench.service;
  const label = `probe-${randomUUID().slice(0, 8)}`;
  const method = await db.method.create({
    data: { quantityCode, name: label, absolute, everyMinutes: 30 },
  });
  const kit = await db.kit.create({ data: { methodId: method.id, label, openedAt: new Date('2026-10-01') } });
  await db.probeName.create({ data: { name: label, systemId, kitId: kit.id } });
  return label;
}

/** What it shows every half hour from one hour to another. */
async function report(name: string, unit: string, from: number, to: number, shows: (hour: number) => number) {
  bench.at(after(to));
  const pack = [];
  for (let hour = from; hour < to; hour += 0.5)
    pack.push({ n: name, u: unit, t: begin / 1000 + hour * 3600, v: shows(hour) });
  const { status, body } = await manager.send('/api/senml', pack);
  expect(status, body).toBe(200);
}

async function enter(
  systemId: string,
  hour: number,
  quantityCode: string,
  text: string,
  methodId: string,
  late = 0,
  kitId?: string,
) {
  bench.at(after(hour + late));
  const answer = await manager.send('/api/readings', {
    systemId,
    at: after(hour).slice(0, 16),
    readings: [{ quantityCode, text, sure: true, methodId, ...(kitId === undefined ? {} : { kitId }) }],
  });
  expect(answer.status, answer.body).toBe(201);
  return (answer.json() as { readings: { id: string; trust: string; reason: string; advice: string }[] })
    .readings[0] as {
    id: string;
    trust: string;
    reason: string;
    advice: string;
  };
}

const trustOf = async ({ id }: { id: string }) =>
  (await bench.service.db.reading.findUniqueOrThrow({ where: { id } })).trust;

async function alertsAt(systemId: string, hour: number) {
  bench.at(after(hour));
  await evaluateSystems(bench.service, [systemId], new Date(after(hour)));
  const alerts = await bench.service.db.alert.findMany({ where: { systemId, clearedAt: null } });
  return alerts.map(({ finding }) => finding as unknown as Finding);
}

const random = seededRandom(11);
const warm = (hour: number) =>
  Math.round(10 * (25 + 0.25 * Math.sin(hour / 3.82) + 0.05 * random.normal())) / 10;
const acid = (hour: number) =>
  Math.round(100 * (8.2 + 0.12 * Math.sin(hour / 3.82) + 0.01 * random.normal())) / 100;

describe('a probe that is stuck', () => {
  test.each([
    ['flat', () => 25.1],
    ['flat but for noise', () => 25.1 + (random.uniform() < 0.3 ? 0.1 : 0)],
  ])('%s at 25.1 degC does not refute three thermometers at 31.5', async (how, stuck) => {
    const systemId = await makeSystem(bench, `Stuck thermometer ${how}`);
    const name = await placeProbe(systemId, 'temperature', 0.1);
    await report(name, 'Cel', 0, 120, warm);
    await report(name, 'Cel', 120, 168, stuck);
    const thermometer = await methodOf('temperature', 'thermometer');
    const first = await enter(systemId, 167, 'temperature', '31.5', thermometer, 1);
    const second = await enter(systemId, 167.3, 'temperature', '31.5', thermometer, 1);
    const third = await enter(systemId, 168, 'temperature', '31.5', thermometer);
    for (const one of [first, second, third]) expect(['confirmed', 'plain']).toContain(await trustOf(one));
    const alerts = await alertsAt(systemId, 168.2);
    expect(alerts.find(({ rule }) => rule === 'out-of-band')).toMatchObject({ severity: 'now' });
    expect(alerts.find(({ rule }) => rule === 'probe-unwell')?.firstStep).toMatch(/standard|by hand/);
  });

  test('within 0.01 of pH 8.41 for 62 hours does not refute 7.85 by hand', async () => {
    const systemId = await makeSystem(bench, 'Stuck pH');
    const name = await placeProbe(systemId, 'ph', 0.03);
    await report(name, 'pH', 0, 96, acid);
    await report(name, 'pH', 96, 158, () => Math.round(100 * (8.41 + 0.005 * random.normal())) / 100);
    const chart = await methodOf('ph', 'colour chart');
    const first = await enter(systemId, 157.5, 'ph', '7.85', chart, 0.5);
    expect(first.trust).not.toBe('refuted');
    await report(name, 'pH', 158, 160, () => 8.41);
    expect(await trustOf(first)).not.toBe('refuted');
    const alerts = await alertsAt(systemId, 160);
    const [unwell] = alerts.filter(({ rule }) => rule === 'probe-unwell');
    expect(unwell?.title).toMatch(/not used until it is checked|stuck/);
  });

  test('read off once, and decided against by two tests by hand, confirms nothing on later days until it is checked', async () => {
    const systemId = await makeSystem(bench, 'Read off, decided against');
    const [probe, refractometer] = [
      await methodOf('salinity', 'conductivity probe'),
      await methodOf('salinity', 'refractometer'),
    ];
    for (const [day, text] of ['35', '35.1', '35', '34.9', '35'].entries())
      await enter(systemId, 24 * day, 'salinity', text, probe);
    const odd = await enter(systemId, 120, 'salinity', '31', probe);
    await enter(systemId, 120.5, 'salinity', '35', refractometer);
    await enter(systemId, 121, 'salinity', '35', refractometer);
    expect(await trustOf(odd)).toBe('refuted');
    for (const [hour, text] of [
      [144, '31.1'],
      [168, '31'],
    ] as const) {
      const [unwell, ...others] = await alertsAt(systemId, hour - 1);
      expect(unwell?.title).toContain('not used until it is checked');
      expect(others).toEqual([]);
      const later = await enter(systemId, hour, 'salinity', text, probe);
      expect(later).toMatchObject({
        trust: 'unconfirmed',
        advice: 'Test by hand, and go by that until the probe is checked.',
      });
    }
    expect((await alertsAt(systemId, 169)).map(({ rule }) => rule)).toEqual(['probe-unwell']);
    expect((await manager.get(`/water/systems/${systemId}?quantity=salinity`)).body).not.toContain(
      'confirms it.',
    );
  });

  test('read off by hand every few hours is a probe as well', async () => {
    const systemId = await makeSystem(bench, 'Read off');
    const probe = await methodOf('ph', 'probe');
    for (let hour = 0; hour < 72; hour += 4) await enter(systemId, hour, 'ph', acid(hour).toFixed(2), probe);
    for (let hour = 72; hour < 120; hour += 4) await enter(systemId, hour, 'ph', '8.31', probe);
    const chart = await methodOf('ph', 'colour chart');
    const hand = await enter(systemId, 118, 'ph', '7.4', chart, 2);
    const read = await enter(systemId, 120, 'ph', '8.31', probe);
    expect(read.reason).toContain('counts for nothing until it is checked');
    expect(await trustOf(hand)).not.toBe('refuted');
    const alerts = await alertsAt(systemId, 120.1);
    expect(alerts.find(({ rule }) => rule === 'probe-unwell')?.title).toContain(
      'not used until it is checked',
    );
  });
});

describe('sources that disagree', () => {
  test('a sound probe against one test by hand is “probe or hand?”, and a second test by hand decides for the probe', async () => {
    const systemId = await makeSystem(bench, 'Probe right');
    const name = await placeProbe(systemId, 'temperature', 0.1);
    await report(name, 'Cel', 0, 168, warm);
    const thermometer = await methodOf('temperature', 'thermometer');
    await enter(systemId, 100, 'temperature', '25.0', thermometer);
    const high = await enter(systemId, 167.5, 'temperature', '31.5', thermometer, 0.5);
    await report(name, 'Cel', 168, 169, warm);
    expect(await trustOf(high)).toBe('unconfirmed');
    const [asked] = (await alertsAt(systemId, 169)).filter(({ rule }) => rule === 'sources-differ');
    expect(asked).toMatchObject({ severity: 'now', title: expect.stringContaining('probe or hand?') });
    expect(asked?.firstStep).toContain('Act now');
    await enter(systemId, 169.1, 'temperature', '25.0', thermometer);
    expect(await trustOf(high)).toBe('refuted');
    expect((await alertsAt(systemId, 173)).map(({ rule }) => rule)).not.toContain('sources-differ');
  });

  test('two tests by hand that agree decide against a probe that moves', async () => {
    const systemId = await makeSystem(bench, 'Probe off');
    const name = await placeProbe(systemId, 'ph', 0.03);
    await report(name, 'pH', 0, 168, (hour) => acid(hour) + 0.6);
    const chart = await methodOf('ph', 'colour chart');
    const first = await enter(systemId, 140, 'ph', '8.1', chart);
    const second = await enter(systemId, 164, 'ph', '8.1', chart);
    for (const one of [first, second]) expect(await trustOf(one)).not.toBe('refuted');
    const alerts = await alertsAt(systemId, 168);
    expect(alerts.find(({ rule }) => rule === 'probe-unwell')?.numbers).toContain('than two tests by hand');
  });

  test('a second method that differs is told as differing, and refutes nothing', async () => {
    const systemId = await makeSystem(bench, 'Two methods');
    const [drop, photometer] = [
      await methodOf('alkalinity', 'drop titration'),
      await methodOf('alkalinity', 'photometer'),
    ];
    for (let day = 0; day < 6; day++) await enter(systemId, 24 * day, 'alkalinity', '8.3', drop);
    const low = await enter(systemId, 144, 'alkalinity', '6.6', drop);
    const other = await enter(systemId, 144.3, 'alkalinity', '8.3', photometer);
    expect(other.reason).toContain('The methods differ');
    expect(await trustOf(low)).toBe('unconfirmed');
    const alerts = await alertsAt(systemId, 144.5);
    expect(alerts.find(({ rule }) => rule === 'sources-differ')?.title).toContain('the methods differ');
    await enter(systemId, 144.6, 'alkalinity', '8.4', photometer);
    expect(await trustOf(low)).toBe('refuted');
  });

  test('a second kit that differs each time is told as differing, and neither kit refutes the other by saying the same again', async () => {
    const systemId = await makeSystem(bench, 'Two kits');
    const drop = await methodOf('alkalinity', 'drop titration');
    const openedAt = new Date('2026-10-01');
    const kit = async (label: string) =>
      (await bench.service.db.kit.create({ data: { methodId: drop, label, openedAt } })).id;
    const [usual, other] = [await kit('Usual bottle'), await kit('Other bottle')];
    for (let day = 0; day < 8; day++) await enter(systemId, 24 * day, 'alkalinity', '8.0', drop, 0, usual);
    const high = [];
    for (const day of [8, 10, 12]) {
      high.push(await enter(systemId, 24 * day, 'alkalinity', '8.9', drop, 0, other));
      const low = await enter(systemId, 24 * day + 6, 'alkalinity', '8.0', drop, 0, usual);
      expect(low.reason).toContain('The kits differ');
      const told = (await alertsAt(systemId, 24 * day + 7)).find(({ rule }) => rule === 'sources-differ');
      expect(told?.title).toContain('the kits differ');
      expect(told?.firstStep).toContain('Test a standard with both');
    }
    for (const one of high) expect(await trustOf(one)).toBe('unconfirmed');

    const slip = await enter(systemId, 24 * 14, 'alkalinity', '6.9', drop, 0, usual);
    const third = await kit('Third bottle');
    await enter(systemId, 24 * 14 + 1, 'alkalinity', '8.0', drop, 0, third);
    expect(await trustOf(slip), 'a slip by the usual kit').toBe('refuted');
    const last = await enter(systemId, 24 * 15, 'alkalinity', '8.9', drop, 0, other);
    await enter(systemId, 24 * 15 + 1, 'alkalinity', '8.0', drop, 0, third);
    expect(await trustOf(last), 'two kits against one').toBe('refuted');
  });

  test('hold back what would set the level right, until a test decides', async () => {
    const systemId = await makeSystem(bench, 'Nothing set right');
    const drop = await methodOf('alkalinity', 'drop titration');
    const photometer = await methodOf('alkalinity', 'photometer');
    for (let day = 0; day < 5; day++) await enter(systemId, 24 * day, 'alkalinity', '7.2', drop);
    await enter(systemId, 120, 'alkalinity', '7.2', drop);
    await enter(systemId, 120.2, 'alkalinity', '7.2', drop);
    const planned = await manager.send(`/api/systems/${systemId}/corrections`, {
      quantityCode: 'alkalinity',
      means: 'sodium-bicarbonate',
      target: '8.5',
      purity: '100',
      startsOn: minuteOf(120).slice(0, 10),
    });
    expect(planned.status, planned.body).toBe(201);
    const { id } = planned.json() as { id: string };
    const [first, second] = await bench.service.db.correctionStep.findMany({
      where: { correctionId: id },
      orderBy: { position: 'asc' },
    });
    const did = await manager.send(`/api/correction-steps/${first?.id}/record`, {
      at: minuteOf(120.2),
    });
    expect(did.status, did.body).toBe(200);
    await enter(systemId, 144.6, 'alkalinity', '6.0', drop);
    await enter(systemId, 144.8, 'alkalinity', '7.9', photometer);
    expect((await alertsAt(systemId, 145)).map(({ rule }) => rule)).toContain('sources-differ');

    const differ = /Two sources disagree about alkalinity: 6\.0 dKH by one method, 7\.9 dKH by the other/;
    const held = await manager.send(`/api/correction-steps/${second?.id}/record`, {
      at: minuteOf(145),
    });
    expect(held.status).toBe(409);
    expect(held.body).toMatch(differ);
    expect((await manager.get(`/water/corrections/${id}`)).body).toMatch(differ);
    const page = (await manager.get(`/water/systems/${systemId}/corrections/new?quantity=alkalinity`)).body;
    expect(page).not.toContain('Show the schedule');
    const url = `/water/systems/${systemId}/doses`;
    const dose = { substance: 'sodium bicarbonate', amount: '20', unit: 'g' };
    const asked = await manager.post(url, dose);
    expect(asked.status).toBe(422);
    expect(asked.body).toMatch(differ);

    await enter(systemId, 145.2, 'alkalinity', '7.9', photometer);
    await alertsAt(systemId, 145.4);
    expect((await manager.get(`/water/corrections/${id}`)).body).not.toMatch(differ);
    const again = await manager.send(`/api/correction-steps/${second?.id}/record`, {
      at: minuteOf(145.4),
    });
    expect(again.body).not.toMatch(differ);
  });

  test.each([
    ['past its calibration', 'expired'],
    ['off in a standard', 'check'],
    ['stepped by the lamps', 'lamps'],
    ['drifting away from tests by hand', 'drift'],
  ])('a probe %s has no vote against a test by hand', async (_, how) => {
    const systemId = await makeSystem(bench, `No vote ${how}`);
    const name = await placeProbe(systemId, 'ph', 0.03);
    const { db } = bench.service;
    const kit = await db.kit.findFirstOrThrow({ where: { label: name } });
    const lit = (hour: number) => (how === 'lamps' && hour % 24 >= 9 && hour % 24 < 21 ? 0.25 : 0);
    const drift = (hour: number) => (how === 'drift' ? hour * 0.005 : 0);
    await report(name, 'pH', 0, 168, (hour) => acid(hour) + lit(hour) + drift(hour));
    const chart = await methodOf('ph', 'colour chart');
    if (how === 'expired')
      await db.kit.update({ where: { id: kit.id }, data: { expiresOn: new Date('2026-11-20') } });
    if (how === 'check')
      await db.checkReading.create({
        data: { id: randomUUID(), kitId: kit.id, at: new Date(after(150)), standardValue: 7, value: 7.6 },
      });
    if (how === 'drift') for (const hour of [12, 84, 160]) await enter(systemId, hour, 'ph', '8.2', chart);
    const hand = await enter(systemId, 167.5, 'ph', '7.4', chart, 0.5);
    expect(await trustOf(hand)).not.toBe('refuted');
    const alerts = await alertsAt(systemId, 168);
    expect(alerts.find(({ rule }) => rule === 'probe-unwell')?.numbers).toMatch(
      /calibration|in a standard of|two times of day|drifted|by hand/,
    );
  });

  test('a sound probe and tests by hand that agree raise nothing', async () => {
    const systemId = await makeSystem(bench, 'All well');
    const name = await placeProbe(systemId, 'ph', 0.03);
    await report(name, 'pH', 0, 168, acid);
    const chart = await methodOf('ph', 'colour chart');
    for (const hour of [36, 84, 132, 166]) await enter(systemId, hour, 'ph', '8.2', chart);
    const rules = (await alertsAt(systemId, 168)).map(({ rule }) => rule);
    expect(rules).not.toContain('probe-unwell');
    expect(rules).not.toContain('sources-differ');
  });
});

describe('what a probe without a vote shows', () => {
  const textOf = async (address: string) =>
    (await manager.get(address)).body.replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');

  test('is no last reading, no forecast and no mean, and is said to be not trusted', async () => {
    const systemId = await makeSystem(bench, 'Not trusted');
    const name = await placeProbe(systemId, 'temperature', 0.1);
    await report(name, 'Cel', 0, 120, warm);
    await report(name, 'Cel', 120, 168, () => 27.9);
    await alertsAt(systemId, 168);
    const page = await textOf(`/water/systems/${systemId}?quantity=temperature`);
    expect(page).toContain('Probe not trusted since 21 Nov');
    expect(page).toContain(`${name} has shown 27.9 °C for`);
    expect(page).not.toMatch(/Last reading 27\.9/);
    expect(page).not.toContain('If it goes on like this');
    const overview = await textOf('/water');
    expect(overview).toMatch(/Not trusted .*probe not trusted since 21 Nov/);
    const [facts] = await loadFacts(bench.service.pool, [systemId], new Date(after(168)));
    expect(Math.max(...(facts?.temperatures ?? []).map(({ mean }) => mean))).toBeLessThan(25.6);

    const thermometer = await methodOf('temperature', 'thermometer');
    await enter(systemId, 168.1, 'temperature', '25.3', thermometer);
    await report(name, 'Cel', 168.5, 170, () => 27.9);
    await alertsAt(systemId, 170);
    expect(await textOf(`/water/systems/${systemId}?quantity=temperature`)).toMatch(/Last reading 25\.3/);
    expect(await textOf(`/water/systems/${systemId}/readings/new`)).not.toContain('27.9');
  });

  test('stays out for as long as it is doubted, and counts again once a standard bears it out', async () => {
    const systemId = await makeSystem(bench, 'Long stuck');
    const name = await placeProbe(systemId, 'ph', 0.03);
    await report(name, 'pH', 0, 48, acid);
    for (let day = 2; day < 20; day += 3) {
      await report(name, 'pH', 24 * day, 24 * day + 72, () => 8.41);
      await alertsAt(systemId, 24 * day + 72);
    }
    const shown = () => textOf(`/water/systems/${systemId}?quantity=ph`);
    expect(await shown()).toContain('Probe not trusted since 18 Nov');
    const { id: kitId } = await bench.service.db.kit.findFirstOrThrow({ where: { label: name } });
    await bench.service.db.checkReading.create({
      data: { id: randomUUID(), kitId, at: new Date(begin + 481 * hourMs), standardValue: 7, value: 7.01 },
    });
    await report(name, 'pH', 482, 490, acid);
    await alertsAt(systemId, 490);
    expect(await shown()).not.toContain('not trusted');
  });
});
