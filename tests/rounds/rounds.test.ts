import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { PlanInput } from '../../src/rounds/plans/plans.schema.ts';
import { editPlan, findPlan } from '../../src/rounds/plans/plans.ts';
import { endRound } from '../../src/rounds/round/rounds.ts';
import { missedOf, plannedRounds, todaysRounds } from '../../src/rounds/schedule/schedule.ts';
import { type Bench, benchNow, startBench } from '../support/service.ts';
import { begin, type Hall, makeHall, planRound } from './hall.ts';

let bench: Bench;
let hall: Hall;
beforeAll(async () => {
  bench = await startBench({ watching: false });
});
afterAll(() => bench.close());
beforeEach(async () => {
  bench.at(benchNow);
  hall = await makeHall(bench, { apart: true });
});

/** A plan as its form would send it. */
async function planInput(id: string): Promise<PlanInput> {
  const { plannedSince: _since, pausedAt, changes: _changes, ...plan } = await findPlan(bench.service.db, id);
  return { ...plan, paused: pausedAt !== null };
}

const today = async (now: string) =>
  (await todaysRounds(bench.service.pool, hall.siteId, new Date(now))).map(
    ({ day, state }) => `${day} ${state}`,
  );
const missed = async (now: string) =>
  missedOf(await plannedRounds(bench.service.pool, hall.siteId, new Date(now))).map(
    ({ day, state }) => `${day} ${state}`,
  );

describe('begun', () => {
  beforeEach(async () => {
    hall = await makeHall(bench);
  });

  test('by two people at once it is one round, and both are led to it', async () => {
    const planId = await planRound(bench, hall);
    const [one, two] = await Promise.all([bench.as('hand', 'One'), bench.as('hand', 'Two')]);
    await Promise.all([one.get('/'), two.get('/')]);
    const answers = await Promise.all(
      [one, two, one].map((hand) => hand.post('/rounds', { planId, day: '2026-11-24' })),
    );
    expect(answers.map(({ status }) => status)).toEqual([303, 303, 303]);
    const rounds = answers.map(({ location }) => /^\/rounds\/[0-9a-f-]{36}/.exec(location ?? '')?.[0]);
    expect(new Set(rounds).size).toBe(1);
    // Who begins it stands at its first rack, who joins it at its list.
    expect(answers.filter(({ location }) => location?.includes('/racks/'))).toHaveLength(1);
    expect(await bench.service.db.round.count({ where: { planId } })).toBe(1);
  });

  test('of a day that is over or to come it is refused, and the list says why', async () => {
    const planId = await planRound(bench, hall);
    const hand = await bench.as('hand');
    const late = await hand.post('/rounds', { planId, day: '2026-11-23' });
    expect([late.status, late.body]).toEqual([
      409,
      expect.stringContaining('The day of that round is over.'),
    ]);
    expect((await hand.post('/rounds', { planId, day: '2026-11-25' })).status).toBe(409);
    expect((await hand.post('/rounds', { planId, day: 'tomorrow' })).status).toBe(422);
    expect(await bench.service.db.round.count({ where: { planId } })).toBe(0);
  });
});

describe('missed', () => {
  test('only when its day is over and nobody began it, and never before it was planned', async () => {
    await planRound(bench, hall);
    expect(await today('2026-11-24T08:00:00Z')).toEqual(['2026-11-24 due']);
    expect(await missed('2026-11-24T23:30:00Z')).toEqual([]);
    bench.at('2026-11-26T08:00:00Z');
    // The plan was made at 08:00, after its time: that day is not held against anybody.
    expect(await missed('2026-11-26T08:00:00Z')).toEqual(['2026-11-25 missed']);
    expect(await missed('2026-12-09T08:00:00Z')).toHaveLength(7);
  });

  test('a late round goes on past midnight and belongs to the day it was begun for', async () => {
    bench.at('2026-11-24T22:00:00Z');
    const planId = await planRound(bench, hall, { startsAt: '23:30' });
    expect(await today('2026-11-25T00:10:00Z')).toEqual(['2026-11-24 due', '2026-11-25 later']);
    bench.at('2026-11-25T00:15:00Z');
    const id = await begin(bench, hall, planId, '2026-11-24');
    expect(await today('2026-11-25T00:20:00Z')).toEqual(['2026-11-24 running', '2026-11-25 later']);
    expect(await missed('2026-11-25T12:00:00Z')).toEqual(['2026-11-24 unfinished']);
    bench.at('2026-11-25T00:40:00Z');
    await bench.change((work) => endRound(work, { id, planId }, work.now));
    expect(await missed('2026-11-25T12:00:00Z')).toEqual([]);
    expect(await today('2026-11-25T12:00:00Z')).toEqual(['2026-11-25 later']);
  });

  test('a plan that was changed is not judged by the days before', async () => {
    const planId = await planRound(bench, hall, { weekdays: [1] });
    bench.at('2026-11-27T12:00:00Z');
    const plan = await planInput(planId);
    await bench.change((work) =>
      editPlan(work, planId, { ...plan, weekdays: [1, 2, 3, 4, 5], paused: false }),
    );
    expect(await missed('2026-11-27T12:00:00Z')).toEqual([]);
    expect(await missed('2026-12-01T12:00:00Z')).toEqual(['2026-11-30 missed']);
  });

  test('a round that runs stays in sight when its plan no longer asks for the day', async () => {
    const planId = await planRound(bench, hall);
    await begin(bench, hall, planId, '2026-11-24');
    const plan = await planInput(planId);
    await bench.change((work) => editPlan(work, planId, { ...plan, weekdays: [1], paused: true }));
    expect(await today('2026-11-24T09:00:00Z')).toEqual(['2026-11-24 running']);
  });
});

test('the list says who walked, when and how long', async () => {
  hall = await makeHall(bench);
  const planId = await planRound(bench, hall);
  const hand = await bench.as('hand', 'Nor Abell');
  const begun = await hand.post('/rounds', { planId, day: '2026-11-24' });
  const location = begun.location?.split('/racks/')[0];
  expect((await hand.get('/rounds')).body).toContain('running, 0 of 2 racks');
  bench.at('2026-11-24T09:05:00Z');
  await hand.post(`${location}/entries`, { id: uuidv7(), kind: 'finished' });
  const list = await hand.get('/rounds');
  expect(list.body).toContain('took 1 h 05 min');
  expect(list.body).toContain('Nor Abell');
});
