import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { amountWords } from '../../src/water/log/feeding-check.rules.ts';
import { addFeeding } from '../../src/water/log/feedings.ts';
import { begin, type Hall, makeHall, planRound } from '../rounds/hall.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

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
  roundId = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
});

const fed = (amountG: number | null, more: object = {}) =>
  bench.change((work) =>
    addFeeding(work, hall.systemId, {
      ...{ food: 'Fine suspended food', amountG, tankId: null, pumpsOffMin: null, response: '' },
      ...{ at: new Date('2026-11-23T08:00:00Z'), ...more },
    }),
  );
const gasping = async () => {
  const { systemId, siteId } = hall;
  const running = {
    id: uuidv7(),
    siteId,
    event: 'oxygen-low',
    title: 'Fish gasp',
    startedAt: new Date('2026-11-24T07:40:00Z'),
  };
  await bench.service.db.emergency.create({ data: { ...running, systems: { create: [{ systemId }] } } });
};
const page = async (path = `systems/${hall.systemId}`) => (await hand.get(`/rounds/${roundId}/${path}`)).body;
const send = async (more: object) => {
  const entry = {
    id: uuidv7(),
    kind: 'feeding',
    at: '2026-11-24T08:00:00Z',
    systemId: hall.systemId,
    food: 'Fine suspended food',
  };
  const answer = await hand.send(`/api/rounds/${roundId}/entries`, [{ ...entry, ...more }]);
  return (answer.json() as { entries: { outcome: string; why?: string }[] }).entries[0];
};

describe('while an emergency is open in a water', () => {
  test('the round offers no feeding by one tap, and says what holds it', async () => {
    await fed(7, { pumpsOffMin: 30 });
    expect(await page()).toContain('Fed the same');
    await gasping();
    expect(await page()).not.toContain('Fed the same');
    expect(await page()).toContain('Fish gasp, since 07:40');
    expect(await page('end')).not.toContain('not fed');
    // The list of what is on the way does not send anybody to feed it either.
    const list = (await hand.get(`/rounds/${roundId}`)).body;
    expect(list).toContain('do not feed now');
    expect(list).not.toContain('not fed yet');
  });

  test('a feeding asks why, on a round and on the page of the system', async () => {
    await gasping();
    expect(await send({ pumpsOffMin: 90 })).toMatchObject({
      outcome: 'refused',
      why: 'Do not feed and keep the pumps running: Fish gasp, since 07:40. If it was fed anyway, say why.',
    });
    expect(await send({ reason: 'fed before anybody saw it' })).toMatchObject({ outcome: 'taken' });
    await expect(fed(7)).rejects.toThrow('say why');
    expect((await hand.get(`/water/systems/${hall.systemId}/feedings`)).body).toContain(
      'Why it was fed anyway',
    );
  });

  test('another water is fed as ever', async () => {
    await gasping();
    hall = await makeHall(bench);
    await expect(fed(7)).resolves.toBeDefined();
  });
});

describe('an amount far beyond the usual', () => {
  test('is asked about once, and taken by a person’s word', async () => {
    for (const amount of [7, 10, 8]) await fed(amount);
    expect(await send({ amountG: '700' })).toMatchObject({
      outcome: 'refused',
      why: '700 g are 88 times the 8 g that are usual here. Check the amount, or say that it is correct.',
    });
    expect(await send({ amountG: '700', sure: 'yes' })).toMatchObject({ outcome: 'taken' });
    expect(await send({ amountG: '12' })).toMatchObject({ outcome: 'taken' });
  });

  test('is unknown where too little was fed before', () => {
    expect(amountWords(700, { holds: [], sameFood: [7, 8], anyFood: [7, 8] })).toBe('');
    expect(amountWords(700, { holds: [], sameFood: [], anyFood: [7, 8, 40] })).toContain(
      'the most fed here before',
    );
    expect(amountWords(39, { holds: [], sameFood: [8, 8, 8], anyFood: [] })).toBe('');
    expect(amountWords(null, { holds: [], sameFood: [8, 8, 8], anyFood: [] })).toBe('');
  });
});

describe('what a round says of feeding', () => {
  test('names the feeding of before the round on its day instead of none', async () => {
    await fed(7, { at: new Date('2026-11-24T06:10:00Z') });
    expect(await page('')).toContain('not fed since 06:10');
    expect(await page('end')).toContain('not fed since 06:10');
  });
});
