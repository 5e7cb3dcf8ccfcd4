import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { offUntil, thingCodes, thingOf, things } from '../../src/farm/switched-off/things.rules.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { type Ground, layGround } from './ground.ts';

let bench: Bench;
let manager: Visitor;
let hand: Visitor;
let other: Visitor;
let ground: Ground;
let heater: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager', 'Ines');
  hand = await bench.as('hand', 'Rui');
  other = await bench.as('hand', 'Vera');
  ground = await layGround(bench);
  const sent = { kind: 'heater', name: 'Heater left', systemId: ground.systemId };
  heater = ((await manager.post('/farm/equipment', sent)).location ?? '').split('/').at(-1) ?? '';
});
afterAll(() => bench.close());

const off = (pick: string, more: Record<string, string> = {}) =>
  hand.post('/farm/switched-off', { systemId: ground.systemId, pick, why: 'Cleaning', ...more });
const newest = () => bench.service.db.switchedOff.findFirstOrThrow({ orderBy: { id: 'desc' } });

describe('something switched off for now', () => {
  test('takes two taps from the system and from a rack, and comes back there', async () => {
    for (const page of [`/water/systems/${ground.systemId}`, `/racks/${ground.rackId}`]) {
      const way = /href="(\/farm\/switched-off\/new[^"]*)"/.exec((await hand.get(page)).body)?.[1] ?? '';
      const form = (await hand.get(way.replaceAll('&amp;', '&').replaceAll('&#x3D;', '='))).body;
      expect(form).toContain(`value="equipment:${heater}"`);
      expect(form).toContain(`name="back" value="${page}"`);
      expect(form).toContain('value="thing:valve_open"');
    }
  });

  test('is due back by the time of its kind, with who, why and what to check on return', async () => {
    expect((await off(`equipment:${heater}`, { back: '/racks' })).location).toBe('/racks');
    const row = await newest();
    expect(row).toMatchObject({ thing: 'heating', what: 'Heater left', why: 'Cleaning', accountId: hand.id });
    expect(row.dueAt).toEqual(new Date('2026-11-24T09:00:00Z'));
    const page = (await other.get('/farm/switched-off')).body;
    expect(page).toContain('Rui is in charge');
    expect(page).toContain('Never switch on a heater that has run dry');
    expect((await other.get(`/farm/equipment/${heater}`)).body).toContain('Off for now');
    const twice = await off(`equipment:${heater}`);
    expect(twice.status).toBe(409);
    expect(twice.body).toContain('noted as off already');
  });

  test('is handed over only when the other accepts', async () => {
    const { id } = await newest();
    expect((await hand.get('/farm/switched-off')).body).toContain('At the end of your shift');
    await hand.post(`/farm/switched-off/${id}/offer`, { toId: other.id });
    expect((await hand.get('/farm/switched-off')).body).toContain(
      'offered to Vera, who has not accepted yet',
    );
    expect((await newest()).keeperId).toBe(hand.id);
    await other.post(`/farm/switched-off/${id}/accept`, {});
    expect(await newest()).toMatchObject({ keeperId: other.id, offeredToId: null });
    expect((await hand.get('/farm/switched-off')).body).not.toContain('At the end of your shift');
  });

  test('stays off longer only with a reason and an end', async () => {
    const { id } = await newest();
    const endless = await hand.post(`/farm/switched-off/${id}/longer`, {
      minutes: '99999',
      why: 'waiting for parts',
    });
    expect(endless.status).toBe(422);
    bench.at('2026-11-24T08:50:00Z');
    await hand.post(`/farm/switched-off/${id}/longer`, { minutes: '60', why: 'waiting for parts' });
    expect(await newest()).toMatchObject({
      why: 'Cleaning; waiting for parts',
      dueAt: new Date('2026-11-24T09:50:00Z'),
    });
  });

  test('ends when somebody has seen it running, said once for ever', async () => {
    const { id } = await newest();
    bench.at('2026-11-24T09:00:00Z');
    await other.post(`/farm/switched-off/${id}/running`, { seen: 'the thermometer rises' });
    bench.at('2026-11-24T09:05:00Z');
    await hand.post(`/farm/switched-off/${id}/running`, {});
    const at = new Date('2026-11-24T09:00:00Z');
    expect(await newest()).toMatchObject({
      seenRunningAt: at,
      seenRunningById: other.id,
      seen: 'the thermometer rises',
    });
    const device = await bench.service.db.equipment.findUniqueOrThrow({ where: { id: heater } });
    expect(device.seenRunningAt).toEqual(at);
    bench.at('2026-11-24T08:00:00Z');
  });

  test('anything else can be off too: a valve open, a float put out of force', async () => {
    await off('thing:valve_open', { what: 'Drain of the sump', minutes: '5' });
    expect(await newest()).toMatchObject({
      what: 'Drain of the sump',
      dueAt: new Date('2026-11-24T08:05:00Z'),
    });
    expect((await off('thing:nothing')).status).toBe(422);
    expect((await hand.post('/farm/switched-off', { systemId: ground.systemId, why: 'x' })).status).toBe(422);
  });

  test('has times that a manager sets and a hand only reads', async () => {
    const sent = { thing: 'protection', dueMin: '30', lateMin: '40', reason: 'one person here' };
    expect((await hand.post('/farm/switched-off/times', sent)).status).toBe(403);
    expect((await manager.post('/farm/switched-off/times', { ...sent, lateMin: '20' })).status).toBe(422);
    await manager.post('/farm/switched-off/times', sent);
    expect((await hand.get('/farm/switched-off/times')).body).toContain('the farm’s: one person here');
    await off('thing:protection');
    expect(await newest()).toMatchObject({
      dueAt: new Date('2026-11-24T08:30:00Z'),
      lateAt: new Date('2026-11-24T08:40:00Z'),
    });
    await manager.post('/farm/switched-off/times/reset', { thing: 'protection' });
    expect((await hand.get('/farm/switched-off/times')).body).not.toContain('one person here');
  });
});

test('every kind of equipment has a time, and nothing is late before it is due', () => {
  for (const thing of Object.values(thingOf)) expect(thingCodes).toContain(thing);
  for (const thing of thingCodes)
    expect(things[thing].lateMin, thing).toBeGreaterThanOrEqual(things[thing].dueMin);
});

test.each([
  ['its usual times', null, 30, 35],
  ['a shorter time, late soon after', 10, 10, 15],
  ['a longer time, late no later after it than usual', 120, 120, 125],
])('what is off has %s', (_, said, due, late) => {
  const at = new Date('2026-11-24T08:00:00Z');
  const minutes = ({ dueAt, lateAt }: { dueAt: Date; lateAt: Date }) =>
    [dueAt, lateAt].map((one) => (one.getTime() - at.getTime()) / 60_000);
  expect(minutes(offUntil(at, things.all_flow, said))).toEqual([due, late]);
});
