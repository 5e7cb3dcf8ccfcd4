import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { evaluateNewDay } from '../../src/watch/evaluation/new-day.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// Met on a day's trial: the doser was noted as switched off, no dose was ever logged, and 8.3 -> 7.4 dKH stayed unconfirmed.
// Where water goes when a thing stands still is common practice; the values are invented.

let bench: Bench;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hand = await bench.as('hand');
});
afterAll(() => bench.close());

const morning = (day: number) => `2026-11-${String(day).padStart(2, '0')}T08:00:00Z`;

async function enter(systemId: string, at: string, quantityCode: string, text: string) {
  bench.at(at);
  const readings = [{ quantityCode, text, sure: true }];
  const answer = await hand.send('/api/readings', { systemId, at: at.slice(0, 16), readings });
  expect(answer.status, answer.body).toBe(201);
  const kept = answer.json() as { readings: { id: string; trust: string; reason: string }[] };
  return kept.readings[0] as { id: string; trust: string; reason: string };
}

async function switchOff(systemId: string, at: string, pick: string, what = '') {
  bench.at(at);
  const answer = await hand.post('/farm/switched-off', {
    systemId,
    pick,
    what,
    why: 'Cleaning',
    minutes: '600',
  });
  expect(answer.status, answer.body).toBe(303);
}

const calm: Readonly<Record<string, readonly string[]>> = {
  alkalinity: ['8.3', '8.4', '8.2', '8.3', '8.4', '8.3', '8.3', '8.3'],
  temperature: ['25.0', '25.1', '25.0', '24.9', '25.0', '25.1', '25.0', '25.0'],
  ph: ['8.20', '8.18', '8.21', '8.20', '8.19', '8.20', '8.21', '8.20'],
};

describe('the first surprising test after something was noted as switched off', () => {
  test.each([
    ['the doser', 'thing:doser', 'alkalinity', '7.3', 'confirmed'],
    ['the doser, on the other side', 'thing:doser', 'alkalinity', '9.5', 'unconfirmed'],
    ['the heater', 'thing:heating', 'temperature', '21.5', 'confirmed'],
    ['the cooler', 'thing:cooling', 'temperature', '28.9', 'confirmed'],
    ['the return pump', 'thing:return_pump', 'ph', '7.6', 'confirmed'],
    ['the lamps, which say nothing of it', 'thing:light', 'alkalinity', '7.3', 'unconfirmed'],
  ] as const)('%s', async (name, pick, code, text, trust) => {
    const systemId = await makeSystem(bench, `Off: ${name}`);
    for (const [i, value] of (calm[code] ?? []).entries()) await enter(systemId, morning(1 + i), code, value);
    await switchOff(systemId, '2026-11-08T09:00:00Z', pick);
    // Nothing is forecast through it: the readings before were made with it running.
    const page = (await hand.get(`/water/systems/${systemId}?quantity=${code}`)).body;
    const [ahead, not] = [/If it goes on like this/, /Not known: [^.]+ is off since 8 Nov 09:00/];
    expect(page).toMatch(pick === 'thing:light' ? ahead : not);
    expect(page).not.toMatch(pick === 'thing:light' ? not : ahead);
    const read = await enter(systemId, morning(9), code, text);
    expect(read.trust).toBe(trust);
    if (trust === 'confirmed') expect(read.reason).toContain('is noted as switched off, which explains it');
  });

  test('says nothing where it was off for minutes alone: pumps stand still at every feeding', async () => {
    const systemId = await makeSystem(bench, 'Off: for a feeding');
    for (const [i, value] of (calm.ph ?? []).entries()) await enter(systemId, morning(1 + i), 'ph', value);
    bench.at('2026-11-08T18:00:00Z');
    const fed = await hand.post(`/water/systems/${systemId}/feedings`, { food: 'shrimp', pumpsOffMin: '10' });
    expect(fed.status, fed.body).toBe(303);
    const feeding = await bench.service.db.feeding.findFirstOrThrow({ where: { systemId } });
    bench.at('2026-11-08T18:10:00Z');
    expect((await hand.post(`/water/feedings/${feeding.id}/pumps`, {})).status).toBe(303);
    expect((await enter(systemId, morning(9), 'ph', '7.6')).trust).toBe('unconfirmed');
  });

  test('a doser of calcium says nothing of alkalinity', async () => {
    const systemId = await makeSystem(bench, 'Off: another doser');
    const { db } = bench.service;
    const doser = await db.equipment.create({
      data: { systemId, kind: 'doser', name: 'Calcium doser', strengthCode: 'calcium', strength: 100 },
    });
    for (const [i, value] of (calm.alkalinity ?? []).entries())
      await enter(systemId, morning(1 + i), 'alkalinity', value);
    await switchOff(systemId, '2026-11-08T09:00:00Z', `equipment:${doser.id}`);
    expect((await enter(systemId, morning(9), 'alkalinity', '7.3')).trust).toBe('unconfirmed');
  });
});

test('a day that begins for the farm is judged then, and not at the next full hour', async () => {
  const { db } = bench.service;
  const systemId = await makeSystem(bench, 'A new day');
  await enter(systemId, morning(1), 'alkalinity', '8.3');
  const method = await db.method.findFirstOrThrow({
    where: { quantityCode: 'alkalinity', name: 'drop titration' },
  });
  const kit = await db.kit.create({
    data: {
      methodId: method.id,
      label: 'Bottle',
      openedAt: new Date(morning(1)),
      expiresOn: new Date('2026-11-20'),
    },
  });
  await db.reading.updateMany({ where: { systemId }, data: { kitId: kit.id } });
  const expired = () => db.alert.count({ where: { rule: 'kit-unfit', subjectId: kit.id, clearedAt: null } });
  const minute = async (before: string, at: string) => {
    bench.at(at);
    await evaluateNewDay(bench.service, new Date(before), new Date(at));
  };
  await minute('2026-11-20T23:58:20Z', '2026-11-20T23:59:20Z');
  expect(await expired()).toBe(0);
  await minute('2026-11-20T23:59:20Z', '2026-11-21T00:00:20Z');
  expect(await expired()).toBe(1);
});

test('a heater taken off the books while it is off is not to be put back: another takes its place', async () => {
  const systemId = await makeSystem(bench, 'Off: off the books');
  const manager = await bench.as('manager');
  bench.at('2026-11-20T08:00:00Z');
  const sent = { kind: 'heater', name: 'Heater A', systemId };
  const path = (await manager.post('/farm/equipment', sent)).location ?? '';
  await switchOff(systemId, '2026-11-20T08:05:00Z', `equipment:${path.split('/').at(-1)}`);
  await manager.post(path, { name: 'Heater A', removed: 'yes', version: '1' });
  bench.at('2026-11-20T18:30:00Z');
  await evaluateSystems(bench.service, [systemId], bench.service.now());
  const alert = await bench.service.db.alert.findFirstOrThrow({ where: { systemId, rule: 'still-off' } });
  const { firstStep } = alert.finding as unknown as { firstStep: string };
  expect(firstStep).toMatch(/^Heater A was taken off the books while it was off\. Put another in its place/);
});
