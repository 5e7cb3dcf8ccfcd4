import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { RoutineInput } from '../../src/water/routines/routines.schema.ts';
import { planRoutine } from '../../src/water/routines/routines.ts';
import {
  type Bench,
  benchNow,
  type Answer as HttpAnswer,
  startBench,
  type Visitor,
} from '../support/service.ts';
import { begin, type Hall, makeHall, planRound } from './hall.ts';

let bench: Bench;
let hall: Hall;
let hand: Visitor;
let roundId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeHall(bench);
  hand = await bench.as('hand', 'Nor Abell');
});
afterAll(() => bench.close());
beforeEach(async () => {
  bench.at(benchNow);
  hall = await makeHall(bench);
  roundId = await begin(bench, hall, await planRound(bench, hall, { steps: ['look'] }), '2026-11-24');
});

const daily = { weekdays: [], everyDays: 1, startsOn: '2026-11-24', version: 0 };
const plan = async (input: RoutineInput) =>
  `routine:${(await bench.change((work) => planRoutine(work, hall.systemId, input))).id}`;
const change = () =>
  plan({ ...daily, weekdays: [], everyDays: 7, work: 'water_change', volume: 180, volumeUnit: 'L' });
const ticked = (key: string, more: object = {}) => ({
  id: uuidv7(),
  kind: 'task',
  at: '2026-11-24T08:00:00Z',
  systemId: hall.systemId,
  label: 'Shallow, change 180 L of water',
  key,
  ...more,
});
const send = (...entries: object[]) => hand.send(`/api/rounds/${roundId}/entries`, entries);
const outcomes = (answer: HttpAnswer) =>
  (answer.json() as { entries: { outcome: string }[] }).entries.map(({ outcome }) => outcome);
const screen = async () => (await hand.get(`/rounds/${roundId}/systems/${hall.systemId}`)).body;
const changes = () => bench.service.db.waterChange.findMany({ where: { systemId: hall.systemId } });

describe('due work on a round', () => {
  test('is shown with its amount, and ticked off is logged as planned, once for ever', async () => {
    const key = await change();
    expect((await hand.get(`/rounds/${roundId}`)).body).toContain('change 180 L of water due');
    const before = await screen();
    expect(before).toContain('Change 180 L of water');
    expect(before).toContain('same temperature and salinity');
    const entry = ticked(key);
    expect(outcomes(await send(entry, entry))).toEqual(['taken', 'there']);
    expect(await changes()).toMatchObject([{ volumeL: 180, at: new Date(entry.at), accountId: hand.id }]);
    expect(await screen()).toMatch(/class="round-task done"/);
  });

  test('with another amount than planned, it is logged as it was', async () => {
    const key = await plan({
      ...daily,
      work: 'dose',
      substance: 'sodium bicarbonate',
      amount: 20,
      unit: 'g',
    });
    expect(outcomes(await send(ticked(key, { amount: '17,5' })))).toEqual(['taken']);
    const [dose] = await bench.service.db.dose.findMany({ where: { systemId: hall.systemId } });
    expect(dose).toMatchObject({
      amount: 17.5,
      unit: 'g',
      substance: 'sodium bicarbonate',
      quantityCode: 'alkalinity',
    });
  });

  test('by two people it is taken once; the second is told, and leaves it out', async () => {
    const key = await change();
    const second = ticked(key);
    expect(outcomes(await send(ticked(key), second))).toEqual(['taken', 'refused']);
    expect(await changes()).toHaveLength(1);
    const end = (await hand.get(`/rounds/${roundId}/end`)).body;
    expect(end).toContain('something of the kind is logged already');
    await hand.post(`/rounds/${roundId}/refused/${second.id}`, { why: 'the other did it' });
    expect((await hand.get(`/rounds/${roundId}/end`)).body).not.toContain('logged already');
  });

  test('at the same moment from two tablets it is one water change', async () => {
    const key = await change();
    const other = await bench.as('hand', 'Two');
    const post = (by: Visitor) => by.send(`/api/rounds/${roundId}/entries`, [ticked(key)]);
    const answers = await Promise.all([post(hand), post(other)]);
    expect(answers.flatMap(outcomes).sort()).toEqual(['refused', 'taken']);
    expect(await changes()).toHaveLength(1);
  });

  test('a feeding begins its pumps’ time, and the pumps may be noted on by the entry’s own key', async () => {
    const key = await plan({
      ...daily,
      work: 'feeding',
      food: 'Chopped shrimp',
      amountG: 12,
      tankId: hall.tankId,
      pumpsOffMin: 20,
    });
    const fed = ticked(key, { pumpsOffMin: '20' });
    expect(outcomes(await send(fed))).toEqual(['taken']);
    expect(await screen()).toContain('Pumps off since');
    bench.at('2026-11-24T08:19:00Z');
    await send({ id: uuidv7(), kind: 'pumps_on', at: '2026-11-24T08:18:00Z', feedingId: fed.id });
    const [feeding] = await bench.service.db.feeding.findMany({ where: { systemId: hall.systemId } });
    expect(feeding).toMatchObject({ amountG: 12, pumpsOffMin: 20 });
    const off = await bench.service.db.switchedOff.findUniqueOrThrow({
      where: { feedingId: feeding?.id ?? '' },
    });
    expect(off.seenRunningAt).toEqual(new Date('2026-11-24T08:18:00Z'));
  });

  test('a test is not ticked off but entered; the round says which are due', async () => {
    const key = await plan({ ...daily, work: 'test', quantityCode: 'nitrate' });
    expect(outcomes(await send(ticked(key)))).toEqual(['refused']);
    expect(await screen()).toMatch(/Test nitrate[\s\S]*due today/);
    expect((await hand.get(`/rounds/${roundId}`)).body).toContain('1 test due');
  });

  test('what is left undone is said at the end, in words', async () => {
    await change();
    expect((await hand.get(`/rounds/${roundId}/end`)).body).toMatch(/Not done[\s\S]*Change 180 L of water/);
  });

  test('by a plain form it is the same, and a wrong amount is refused in words', async () => {
    const key = await change();
    const next = `/rounds/${roundId}/systems/${hall.systemId}`;
    const form = { ...ticked(key), next };
    const wrong = await hand.post(`/rounds/${roundId}/entries`, { ...form, amount: 'much' });
    expect(wrong.status).toBe(422);
    expect(wrong.body).toContain('Enter the amount as a number');
    expect(wrong.body).toMatch(/id="amount" name="amount" value="much"[^>]*aria-invalid="true"/);
    expect((await hand.post(`/rounds/${roundId}/entries`, form)).location).toBe(next);
    expect(await changes()).toHaveLength(1);
  });

  test('what was typed for one piece of work comes back beside it alone', async () => {
    const [key] = [
      await change(),
      await plan({
        ...daily,
        work: 'feeding',
        food: 'Chopped shrimp',
        amountG: 12,
        pumpsOffMin: null,
        tankId: null,
      }),
    ];
    const wrong = await hand.post(`/rounds/${roundId}/entries`, { ...ticked(key), amount: '18o' });
    expect(wrong.body).toContain('name="amount" value="18o"');
    expect(wrong.body).toContain('name="amount" value="12"');
  });

  test('a key that stands for nothing is refused in words', async () => {
    const answer = await send(ticked('moves:1'), ticked(`routine:${uuidv7()}`));
    expect(outcomes(answer)).toEqual(['refused', 'refused']);
  });
});
