import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { switchOff } from '../../src/farm/switched-off/switched-off.ts';
import { takeEntries } from '../../src/rounds/entries/entries.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { begin, type Hall, makeHall, planRound } from './hall.ts';

let bench: Bench;
let hall: Hall;
let hand: Visitor;
let roundId: string;
const at = (time: string) => `2026-11-24T${time}:00Z`;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  hand = await bench.as('hand', 'Nor Abell');
  bench.at(at('07:30'));
  const planId = await planRound(bench, hall, {
    steps: ['look', 'test', 'feed', 'clean', 'check'],
    chores: ['Skimmer cup emptied'],
  });
  roundId = await begin(bench, hall, planId, '2026-11-24');
  bench.at(at('08:00'));
});
afterAll(() => bench.close());

/** Sends one entry as a tablet does, tapped at a time of the morning. */
async function send(kind: string, tapped: string, fields: object) {
  const entry = { id: uuidv7(), kind, at: at(tapped), label: '', ...fields };
  const sender = { sharedWith: new Set<string>(), roundId, by: hand.id, deviceNow: bench.service.now() };
  const [answer] = await takeEntries(bench.service, sender, [entry]);
  return { entry, answer };
}
const page = async (path = '') => (await hand.get(`/rounds/${roundId}${path}`)).body;
const system = () => page(`/systems/${hall.systemId}`);

describe('a reading on the round', () => {
  const alkalinity = (tapped: string, text: string, more: object = {}) =>
    send('reading', tapped, {
      systemId: hall.systemId,
      quantityCode: 'alkalinity',
      text,
      unit: 'dKH',
      ...more,
    });

  test('is kept as of when it was tapped, and shown as the last value', async () => {
    const { answer, entry } = await alkalinity('07:40', '8.3');
    expect(answer).toEqual({ id: entry.id, outcome: 'taken' });
    const [reading] = await bench.service.db.reading.findMany({ where: { systemId: hall.systemId } });
    expect(reading).toMatchObject({ enteredText: '8.3', enteredUnit: 'dKH', at: new Date(at('07:40')) });
    const tests = `/rounds/${roundId}/systems/${hall.systemId}/tests`;
    expect((await hand.get(tests)).body).toContain('8.3 dKH, 20 min ago');
  });

  test('that surprises asks for a second one on every screen of the round', async () => {
    await alkalinity('07:45', '11.9');
    expect(await page()).toMatch(/Test again[\s\S]*Alkalinity 11\.9 dKH in Shallow/);
    await alkalinity('07:50', '11.8');
    expect(await page()).not.toContain('Test again');
  });

  test('in doubt is kept for a person, who says that it is really so, of the time it was tapped', async () => {
    const { answer, entry } = await alkalinity('07:52', '17');
    expect(answer).toMatchObject({ outcome: 'refused' });
    expect(await page('/end')).toContain('It is correct');
    const sure = `/rounds/${roundId}/refused/${entry.id}/sure`;
    expect((await hand.post(sure, {})).location).toBe(`/rounds/${roundId}/end`);
    const kept = await bench.service.db.reading.findMany({ where: { enteredText: '17' } });
    expect(kept).toMatchObject([{ at: new Date(at('07:52')) }]);
    expect((await hand.post(sure, {})).status).toBe(404);
  });

  test('that cannot be is refused with what may have been meant, and nobody can say that it is so', async () => {
    const { answer } = await alkalinity('07:53', '83');
    expect(answer?.why).toContain('Did you mean 8.3 dKH?');
    expect(await page('/end')).not.toContain('It is correct');
  });
});

describe('what is ticked off', () => {
  test('a chore that is refused by a plain form comes back with the note that was typed', async () => {
    const note = 'x'.repeat(501);
    for (const key of ['own:Skimmer cup emptied', `clean:${hall.systemId}`]) {
      const form = { id: uuidv7(), kind: 'chore', key, note };
      const { status, body } = await hand.post(`/rounds/${roundId}/entries`, form);
      expect(status).toBe(422);
      expect(body).toContain(`value="${note}"`);
    }
  });

  test('is each step of each system, and the chores of the whole round', async () => {
    expect(await system()).toMatch(/Cleaned[\s\S]*Equipment checked/);
    expect(await page()).toContain('Skimmer cup emptied');
    await send('chore', '07:41', { key: 'own:Skimmer cup emptied', note: '' });
    await send('chore', '07:42', { key: `check:${hall.systemId}`, note: 'return pump hums' });
    expect(await page()).toMatch(/class="round-task done" data-chore="own:Skimmer/);
    expect(await page()).toContain('still to do: cleaned');
    const end = await page('/end');
    expect(end).toMatch(/Shallow[^<]*<\/strong><\/a>: not fed; to tick off: cleaned</);
    expect(end).toContain('return pump hums');
  });

  test('by a key that stands for nothing is refused', async () => {
    expect((await send('chore', '07:43', { key: 'sing' })).answer).toMatchObject({ outcome: 'refused' });
  });
});

test('how a feeding was taken is said afterwards, of the feeding or of the entry that noted it', async () => {
  const { entry } = await send('feeding', '07:44', { systemId: hall.systemId, food: 'Fine food' });
  expect(await system()).toContain('How was it taken?');
  await send('response', '07:55', { feedingId: entry.id, response: 'Taken slowly' });
  const [fed] = await bench.service.db.feeding.findMany({ where: { systemId: hall.systemId } });
  expect(fed?.response).toBe('Taken slowly');
  expect(await system()).not.toContain('How was it taken?');
});

test('a round ended without a network ended when it was tapped, and says how long each rack took', async () => {
  await send('rack_well', '07:36', { rackId: hall.window });
  await send('rack_well', '07:39', { rackId: hall.wall });
  const { answer } = await send('finished', '07:58', {});
  expect(answer).toMatchObject({ outcome: 'taken' });
  const round = await bench.service.db.round.findUniqueOrThrow({ where: { id: roundId } });
  expect(round.finishedAt).toEqual(new Date(at('07:58')));
  const end = await page('/end');
  expect(end).toMatch(/Window rack[\s\S]*?6 min/);
  expect(end).toMatch(/Wall rack[\s\S]*?3 min/);
  expect((await send('finished', '07:59', {})).answer).toMatchObject({ outcome: 'taken' });
  const again = await bench.service.db.round.findUniqueOrThrow({ where: { id: roundId } });
  expect(again.finishedAt).toEqual(round.finishedAt);
  expect((await hand.get('/rounds/past')).body).toMatch(/Morning round[\s\S]*finished/);
});

test('an open page learns what is off for now, with the banner that says so', async () => {
  const news = async () =>
    (await hand.get('/api/switched-off?back=/stock', { accept: 'application/json' })).json() as {
      off: string[];
      html: string;
    };
  expect(await news()).toMatchObject({ off: [], html: '' });
  const { id } = await bench.change((work) =>
    switchOff(work, {
      systemId: hall.systemId,
      thing: 'all_flow',
      why: 'Feeding',
      at: new Date(at('07:59')),
    }),
  );
  const { off, html } = await news();
  expect(off).toEqual([id]);
  expect(html).toContain('name="back" value="/stock"');
});
