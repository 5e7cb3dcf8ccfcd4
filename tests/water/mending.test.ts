import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { latestReadings } from '../../src/water/readings/series.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench, 'First');
  hand = await bench.as('hand', 'Bea');
});
afterAll(() => bench.close());

const found = (id: string) => bench.service.db.reading.findUniqueOrThrow({ where: { id } });
const journal = async () => (await bench.service.db.journalLine.findMany()).map((line) => line.kind);

describe('a typing error', () => {
  test('is corrected by a new reading at the same time; the old one stays in view, struck through', async () => {
    const systemId = await makeSystem(bench, 'Corrected');
    const wrong = await read(bench, systemId, '2026-11-24T07:00Z', 'alkalinity', '3.8');
    const answer = await hand.post(`/water/readings/${wrong.id}/correction`, {
      text: '8.3',
      unit: 'dKH',
      how: '',
      reason: 'digits swapped',
    });
    expect(answer.location).toBe(`/water/systems/${systemId}?quantity=alkalinity`);
    expect(await found(wrong.id)).toMatchObject({
      enteredText: '3.8',
      voidReason: 'Corrected: digits swapped',
    });
    const latest = (await latestReadings(bench.service.pool, [systemId])).get(systemId)?.get('alkalinity');
    expect(await found(latest?.id ?? '')).toMatchObject({
      supersedesId: wrong.id,
      at: new Date('2026-11-24T07:00Z'),
      enteredText: '8.3',
    });
    const { body } = await hand.get(answer.location ?? '');
    expect(body).toContain('<tr class="voided">');
    expect(body).toContain('Corrected: digits swapped');
    expect(await journal()).toContain('reading.corrected');
  });

  test('is corrected once; what is typed meanwhile comes back', async () => {
    const systemId = await makeSystem(bench, 'Twice');
    const wrong = await read(bench, systemId, '2026-11-24T07:00Z', 'nitrate', '50');
    const correct = (text: string) =>
      hand.post(`/water/readings/${wrong.id}/correction`, { text, unit: 'mg/L', how: '', reason: 'slip' });
    expect((await correct('five')).body).toContain('was not understood');
    expect((await correct('5')).status).toBe(303);
    const again = await correct('6');
    expect(again.status).toBe(409);
    expect(again.body).toContain('already been corrected');
  });

  test('a doubtful correction asks with a tick', async () => {
    const systemId = await makeSystem(bench, 'Doubtful');
    const wrong = await read(bench, systemId, '2026-11-24T07:00Z', 'alkalinity', '8.3');
    const form = { text: '15', unit: 'dKH', how: '', reason: 'misread' };
    const asked = await hand.post(`/water/readings/${wrong.id}/correction`, form);
    expect(asked.status).toBe(422);
    expect(asked.body).toContain('It is correct');
    expect((await hand.post(`/water/readings/${wrong.id}/correction`, { ...form, sure: 'yes' })).status).toBe(
      303,
    );
  });
});

describe('voiding', () => {
  test('wants a reason, and once voided a reading counts no more', async () => {
    const systemId = await makeSystem(bench, 'Voided');
    const bad = await read(bench, systemId, '2026-11-24T07:00Z', 'nitrate', '7');
    const refused = await hand.post(`/water/readings/${bad.id}/voiding`, { reason: ' ' });
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('Enter why it does not count.');
    expect(
      (await hand.post(`/water/readings/${bad.id}/voiding`, { reason: 'sample of another tank' })).status,
    ).toBe(303);
    expect((await latestReadings(bench.service.pool, [systemId])).get(systemId)?.size).toBe(0);
    expect((await hand.post(`/water/readings/${bad.id}/voiding`, { reason: 'again' })).status).toBe(409);
    expect((await hand.get(`/water/readings/${randomUUID()}/voiding`)).status).toBe(404);
  });

  test('what the voided reading had settled waits for a second one again', async () => {
    const systemId = await makeSystem(bench, 'Unsettled');
    await read(bench, systemId, '2026-11-23T08:00Z', 'alkalinity', '8.4');
    const low = await read(bench, systemId, '2026-11-24T07:00Z', 'alkalinity', '6.9');
    const second = await read(bench, systemId, '2026-11-24T07:20Z', 'alkalinity', '7.0');
    expect((await found(low.id)).trust).toBe('confirmed');
    await hand.post(`/water/readings/${second.id}/voiding`, { reason: 'reagent bubble' });
    expect(await found(low.id)).toMatchObject({ trust: 'unconfirmed', settledById: null });
  });
});
