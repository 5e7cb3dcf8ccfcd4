import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateDueBack } from '../../src/watch/evaluation/due-back.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { begin, type Hall, makeHall, planRound } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// Reported in a general fish forum: the filter stayed off for twelve hours after feeding; the next day ammonia 0 and
// nitrite 0.25 mg/L. Another poster: seventeen hours, "and about once a month". Times of day are assumed.

let bench: Bench;
let hall: Hall;
let evening: Visitor;
let night: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  evening = await bench.as('hand', 'Evening hand');
  night = await bench.as('hand', 'Night hand');
});
afterAll(() => bench.close());

const alerts = async () =>
  (await openAlerts(bench.service.pool, { systemId: hall.systemId })).filter(
    ({ rule }) => rule === 'still-off',
  );
const minuteJob = async (at: string) => {
  bench.at(at);
  await evaluateDueBack(bench.service, new Date(at));
};
const evaluate = async (at: string) => {
  bench.at(at);
  await evaluateSystems(bench.service, [hall.systemId], new Date(at));
};

test('pumps left off after feeding: whoever comes next is called within minutes, and tests are asked for afterwards', async () => {
  bench.at('2026-11-24T20:00:00Z');
  const roundId = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
  const fed = uuidv7();
  const feeding = {
    id: fed,
    kind: 'feeding',
    systemId: hall.systemId,
    food: 'Chopped shrimp',
    pumpsOffMin: 30,
  };
  await evening.send(`/api/rounds/${roundId}/entries`, [feeding]);
  expect((await night.get('/stock')).body).toContain('in 30 min');

  await minuteJob('2026-11-24T20:29:00Z');
  expect(await alerts()).toEqual([]);
  await minuteJob('2026-11-24T20:31:00Z');
  expect(await alerts()).toMatchObject([{ severity: 'today' }]);
  await minuteJob('2026-11-24T20:36:00Z');
  expect(await alerts()).toMatchObject([{ severity: 'now' }]);
  expect((await night.get('/watch')).body).toContain('pumps still off after feeding');

  await evaluate('2026-11-25T08:00:00Z');
  expect((await alerts())[0]?.finding.firstStep).toContain('test ammonia and nitrite at once');
  await night.send(`/api/rounds/${roundId}/entries`, [{ id: uuidv7(), kind: 'pumps_on', feedingId: fed }]);
  await evaluate('2026-11-25T08:01:00Z');
  expect(await alerts()).toMatchObject([{ severity: 'today', facet: 'tests afterwards' }]);

  const tested = (code: string, text: string) => ({ quantityCode: code, text });
  const enter = (ammonia: string, nitrite: string) =>
    night.send('/api/readings', {
      systemId: hall.systemId,
      readings: [tested('ammonia', ammonia), tested('nitrite', nitrite)],
    });
  expect((await enter('<0.02', '0.25')).status).toBe(201);
  await evaluate('2026-11-25T08:10:00Z');
  expect(await alerts()).toEqual([]);
  await evaluate('2026-11-26T08:05:00Z');
  expect((await alerts())[0]?.title).toContain('test ammonia and nitrite');
  await enter('<0.02', '0.1');
  await evaluate('2026-11-26T08:20:00Z');
  expect(await alerts()).toEqual([]);
  await evaluate('2026-11-27T08:05:00Z');
  expect(await alerts()).toHaveLength(1);
});
