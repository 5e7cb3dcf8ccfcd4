import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { latestReadings, readingSeries } from '../../src/water/readings/series.ts';
import { type Bench, startBench } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
beforeAll(async () => {
  bench = await startBench({ watching: false });
});
afterAll(() => bench.close());

const trustOf = async (id: string) => bench.service.db.reading.findUniqueOrThrow({ where: { id } });

describe('a surprising reading', () => {
  test('waits unconfirmed, says why, and what would settle it', async () => {
    const systemId = await makeSystem(bench, 'Waits');
    await read(bench, systemId, '2026-11-22T08:00Z', 'alkalinity', '8.3');
    await read(bench, systemId, '2026-11-23T08:00Z', 'alkalinity', '8.4');
    const low = await read(bench, systemId, '2026-11-24T07:00Z', 'alkalinity', '6.9');
    expect(low.trust).toBe('unconfirmed');
    expect(low.reason).toBe(
      '6.9 dKH is below what this system keeps, 7.6 to 9.0 dKH. It is 1.5 dKH below the 8.4 dKH that the readings before lead to (the last: 8.4 dKH, 23 h before); this water and this test explain 0.9 dKH.',
    );
    expect(low.advice).toContain('Test again: 6.3 to 7.5 dKH confirms it');
  });

  test('is confirmed by a second reading that agrees within the combined uncertainty', async () => {
    const systemId = await makeSystem(bench, 'Confirmed');
    await read(bench, systemId, '2026-11-23T08:00Z', 'alkalinity', '8.4');
    const low = await read(bench, systemId, '2026-11-24T07:00Z', 'alkalinity', '6.9');
    const second = await read(bench, systemId, '2026-11-24T07:20Z', 'alkalinity', '7.1');
    expect(second.trust).toBe('confirmed');
    expect(await trustOf(low.id)).toMatchObject({ trust: 'confirmed', settledById: second.id });
    expect((await trustOf(low.id)).trustReason).toContain('Confirmed by 7.1 dKH 20 min later');
    const next = await read(bench, systemId, '2026-11-24T07:50Z', 'alkalinity', '6.9');
    expect(next.trust).toBe('plain');
  });

  test('is refuted by a second reading that disagrees and fits the history', async () => {
    const systemId = await makeSystem(bench, 'Refuted');
    await read(bench, systemId, '2026-11-23T08:00Z', 'alkalinity', '8.4');
    const low = await read(bench, systemId, '2026-11-24T07:00Z', 'alkalinity', '6.9');
    const second = await read(bench, systemId, '2026-11-24T07:20Z', 'alkalinity', '8.3');
    expect(second.trust).toBe('plain');
    expect(await trustOf(low.id)).toMatchObject({ trust: 'refuted', settledById: second.id });
    const latest = (await latestReadings(bench.service.pool, [systemId])).get(systemId)?.get('alkalinity');
    expect(latest?.id).toBe(second.id);
    const period = { from: new Date('2026-11-01'), to: new Date('2026-11-25') };
    const asked = { systemId, quantityCode: 'alkalinity', ...period };
    const trusts: string[] = [];
    for await (const piece of readingSeries(bench.service.pool, asked))
      trusts.push(...piece.map(({ trust }) => trust));
    expect(trusts).toEqual(['plain', 'refuted', 'plain']);
  });
});
