import { afterAll, beforeAll, expect, test } from 'vitest';
import { makeDigest } from '../../src/digest/digests.ts';
import { writeLetters } from '../../src/digest/letters.ts';
import { noteCondition } from '../../src/stock/lots/conditions.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// Met on a day's trial: the first digest was made minutes after the farm's first form, and said all day that nothing is set up.

let bench: Bench;
let hall: Hall;
let manager: Visitor;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  manager = await bench.as('manager', 'Ravi Sandomil');
  hand = await bench.as('hand', 'Nela Orvalho');
  bench.at('2026-11-24T06:00:00Z');
  await manager.post('/digest/receivers', {
    name: 'Ravi',
    email: 'ravi@farol-partido.example',
    site: hall.siteId,
  });
  await makeDigest(bench.service, hall.siteId, new Date('2026-11-24T06:30:00Z'));
  await writeLetters(bench.service, new Date('2026-11-24T06:31:00Z'));
});
afterAll(() => bench.close());

const letters = () => bench.service.db.letter.findMany({ orderBy: { createdAt: 'asc' } });
const at = '2026-11-24T10:00:00Z';

test('made again by the manager: it says how things are now, when it was made again, and keeps what it said', async () => {
  const before = await letters();
  expect(before).toHaveLength(1);
  bench.at(at);
  await bench.change((work) =>
    noteCondition(work, {
      lotId: hall.lots.A1.id,
      state: 'bleached',
      grade: 3,
      note: '',
      at: new Date('2026-11-24T09:50:00Z'),
    }),
  );
  await evaluateSystems(bench.service, [hall.systemId], new Date(at));
  expect((await manager.get('/digest/2026-11-24')).body).not.toContain('bleached');

  expect((await hand.get('/digest/2026-11-24')).body).not.toContain('Make it again');
  expect((await hand.post('/digest/2026-11-24/again', {})).status).toBe(403);
  expect((await manager.post('/digest/2026-11-24/again', {})).location).toBe('/digest/2026-11-24');

  const page = (await manager.get('/digest/2026-11-24')).body;
  expect(page).toContain('bleached');
  expect(page).toContain('made again <time');
  expect(page).toContain('As it was made before');
  expect((await manager.get('/digest/2026-11-24/text')).body).toContain('made again 10:00');
  const json = (await manager.get('/api/digests/2026-11-24', { accept: 'application/json' })).json();
  expect(json).toMatchObject({ version: 2, madeAt: '2026-11-24T10:00:00.000Z', earlier: [{ content: {} }] });
});

test('no mail is sent twice unless asked for, and what was sent stays as it was', async () => {
  const [first] = await letters();
  await writeLetters(bench.service, new Date('2026-11-24T10:01:00Z'));
  expect(await letters()).toEqual([first]);
  bench.at('2026-11-24T10:05:00Z');
  const again = await manager.send('/api/digests/2026-11-24/again', { mail: true });
  expect(again.json()).toMatchObject({ version: 3 });
  await writeLetters(bench.service, new Date('2026-11-24T10:06:00Z'));
  await writeLetters(bench.service, new Date('2026-11-24T10:07:00Z'));
  const [kept, second, ...more] = await letters();
  expect(kept).toEqual(first);
  expect(more).toEqual([]);
  expect(Buffer.from(second?.raw ?? []).toString()).toContain('made again 10:05');
  expect(second?.messageId).not.toBe(first?.messageId);
});

test('the digest of an earlier day stays as it was', async () => {
  bench.at('2026-11-25T09:00:00Z');
  const refused = await manager.post('/digest/2026-11-24/again', {});
  expect(refused.status).toBe(409);
  expect(refused.body).toContain('Earlier ones stay as they were');
  expect((await manager.get('/digest/2026-11-24')).body).not.toContain('Make it again');
});
