import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Alert, openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// A float that stuck open, a heater that stuck on, and a dose ten times too large: values made up after keepers' reports.
// That waiting is dear where a level runs: at 0.3 PSU or 0.4 degC an hour a night ends beyond the safe range (28 PSU,
// 31 degC, common practice).

let bench: Bench;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

async function enter(systemId: string, at: string, quantityCode: string, text: string) {
  bench.at(at);
  const readings = [{ quantityCode, text, sure: true }];
  const answer = await manager.send('/api/readings', { systemId, at: at.slice(0, 16), readings });
  expect(answer.status, answer.body).toBe(201);
  return (answer.json() as { readings: { trust: string; reason: string }[] }).readings[0];
}

async function alertOf(systemId: string, at: string, code: string): Promise<Alert | undefined> {
  bench.at(at);
  await evaluateSystems(bench.service, [systemId], new Date(at));
  const open = await openAlerts(bench.service.pool, { systemId });
  return open.find(({ rule, facet }) => rule === 'out-of-band' && facet === code);
}

async function calmWeek(name: string, code: string, values: readonly string[]): Promise<string> {
  const systemId = await makeSystem(bench, name);
  bench.at('2026-11-01T07:00:00Z');
  const { seen } = (await manager.get(`/api/systems/${systemId}/targets`)).json() as { seen: string };
  const taken = await manager.send(`/api/systems/${systemId}/targets/proposed`, { seen });
  expect(taken.status, taken.body).toBe(200);
  for (const [i, value] of values.entries())
    await enter(systemId, `2026-11-0${i + 1}T08:00:00Z`, code, value);
  return systemId;
}

describe('a float that stuck open', () => {
  test('one reading asks for its repeat with what costs nothing, the second is act now: fresh water first', async () => {
    const systemId = await calmWeek('Float', 'salinity', ['35', '35.1', '35', '34.9', '35', '35']);
    await enter(systemId, '2026-11-07T08:00:00Z', 'salinity', '32.4');
    const asked = await alertOf(systemId, '2026-11-07T08:05:00Z', 'salinity');
    expect(asked?.severity).toBe('today');
    expect(asked?.finding.firstStep).toContain('Close top-up and fresh water by hand');
    await enter(systemId, '2026-11-07T14:00:00Z', 'salinity', '30.6');
    const runs = await alertOf(systemId, '2026-11-07T14:05:00Z', 'salinity');
    expect(runs?.severity).toBe('now');
    expect(runs?.finding.firstStep).toMatch(/^Turn air and pumps on\. Close top-up and fresh water by hand/);
    expect(runs?.finding.firstStep).toContain('Raise it by 1 to 2 a day at most');
    const page = (await manager.get(`/watch/${runs?.id}`)).body;
    expect(page).toContain('at 28.0 PSU, where stock is in danger, in about 9 hours');
    const water = (await manager.get(`/water/systems/${systemId}?quantity=salinity`)).body;
    expect(water).not.toContain('If it goes on like this');
  });

  test('a salinity that sank by as much over three days is not act now', async () => {
    const systemId = await calmWeek('Slow float', 'salinity', ['35', '35.1', '35', '34.9', '34.2', '33.5']);
    await enter(systemId, '2026-11-07T08:00:00Z', 'salinity', '32.8');
    expect((await alertOf(systemId, '2026-11-07T08:05:00Z', 'salinity'))?.severity).not.toBe('now');
  });
});

test('a heater that stuck on: the second reading says to unplug it before 31 °C is reached', async () => {
  const systemId = await calmWeek('Heater', 'temperature', ['25.2', '25.3', '25.2', '25.2', '25.3', '25.2']);
  await enter(systemId, '2026-11-07T08:00:00Z', 'temperature', '25.3');
  await enter(systemId, '2026-11-07T12:00:00Z', 'temperature', '28.9');
  await enter(systemId, '2026-11-07T16:00:00Z', 'temperature', '30.4');
  const alert = await alertOf(systemId, '2026-11-07T16:05:00Z', 'temperature');
  expect(alert?.severity).toBe('now');
  expect(alert?.finding.firstStep).toMatch(/^Switch off before a hand goes in.*Unplug the heater/);
  expect(alert?.finding.firstStep).toContain('Read it every 30 minutes');
});

test('the second test after a dose ten times too large is not doubted because the first was explained', async () => {
  const systemId = await calmWeek('Overdose', 'alkalinity', ['8.3', '8.4', '8.3', '8.2', '8.3', '8.3']);
  const { id: accountId } = manager;
  await bench.service.db.dose.create({
    data: {
      ...{
        id: randomUUID(),
        systemId,
        at: new Date('2026-11-06T20:00:00Z'),
        substance: 'sodium bicarbonate',
      },
      ...{ quantityCode: 'alkalinity', amount: 120, unit: 'g', effect: 4.4 / 2.804, accountId },
    },
  });
  await enter(systemId, '2026-11-06T20:30:00Z', 'alkalinity', '12.6');
  const second = await enter(systemId, '2026-11-06T21:00:00Z', 'alkalinity', '12.9');
  expect(second?.trust).not.toBe('unconfirmed');
  const alert = await alertOf(systemId, '2026-11-06T21:05:00Z', 'alkalinity');
  expect(alert?.title).not.toContain('unconfirmed');
  expect(alert?.severity).not.toBe('watch');
});

test('two tests that fall by 0.7 dKH a day under daily doses are one fall, although the first just passed', async () => {
  const systemId = await calmWeek('Fall', 'alkalinity', [
    '8.3',
    '8.4',
    '8.2',
    '8.3',
    '8.4',
    '8.3',
    '8.2',
    '8.3',
  ]);
  await enter(systemId, '2026-11-09T08:00:00Z', 'alkalinity', '7.6');
  const second = await enter(systemId, '2026-11-10T08:00:00Z', 'alkalinity', '6.9');
  expect(second?.trust).toBe('confirmed');
  const alert = await alertOf(systemId, '2026-11-10T08:05:00Z', 'alkalinity');
  expect(alert?.title).not.toContain('unconfirmed');
});
