import { afterAll, beforeAll, expect, test } from 'vitest';
import { addFeeding } from '../../src/water/log/feedings.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { begin, type Hall, makeHall, planRound } from './hall.ts';

let bench: Bench;
let hall: Hall;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  hand = await bench.as('hand');
});
afterAll(() => bench.close());

const alert = (title: string, severity: 'now' | 'today' | 'watch', more: object = {}) =>
  bench.service.db.alert.create({
    data: {
      rule: title,
      subjectType: 'system',
      subjectId: hall.systemId,
      systemId: hall.systemId,
      severity,
      title,
      finding: { numbers: '12 mg/L', firstStep: 'Test it again.' },
      worst: 1,
      openedAt: new Date('2026-11-24T06:00:00Z'),
      evaluatedAt: new Date('2026-11-24T06:00:00Z'),
      ...more,
    },
  });

test('a farm of which nothing is tested and no round is planned is told to set that up, not that it is quiet', async () => {
  const { body } = await hand.get('/');
  expect(body).not.toContain('A quiet day');
  for (const words of ['No water was ever tested', 'No round is planned for today.', 'No alert is open.']) {
    expect(body).toContain(words);
  }
});

test('what is acute stands after the work, without what is put off or explained by another; the rest is counted', async () => {
  await alert('Watch this', 'watch');
  const cause = await alert('Do this now', 'now');
  await alert('Do this today', 'today');
  await alert('Only a consequence', 'now', { causeId: cause.id });
  const putOff = {
    putOffUntil: new Date('2026-11-26T00:00:00Z'),
    putOffReason: 'parts come',
    putOffWorst: 1,
  };
  await alert('Not before Thursday', 'now', putOff);
  const { body } = await hand.get('/');
  expect(body).toContain('Do this now');
  const [work = '', farm = ''] = body.split('class="room"');
  for (const title of ['Do this today', 'Watch this']) expect(work).not.toContain(title);
  expect(farm).toContain('Do this today');
  expect(farm).not.toContain('Watch this');
  expect(body).toContain('<a href="/watch">1 alert for today, 1 only watched</a>');
  expect(body.indexOf('Rounds</h2>')).toBeLessThan(body.indexOf('Act now</h2>'));
  expect(body).toContain('1 other alert comes from this');
  expect(body).not.toContain('Only a consequence');
  expect(body).not.toContain('Not before Thursday');
  expect(body).not.toContain('A quiet day');
});

test('rounds come with their state and what can be done about them', async () => {
  const planId = await planRound(bench, hall, { name: 'Morning round', assigneeId: hand.id });
  expect((await hand.get('/')).body).toMatch(/Morning round[\s\S]*due[\s\S]*Begin/);
  await begin(bench, hall, planId, '2026-11-24');
  expect((await hand.get('/')).body).toMatch(/running, 0 of 2 racks[\s\S]*Go on/);
});

test('what is off stands first, and is ended from here', async () => {
  const at = new Date('2026-11-24T07:00:00Z');
  const fed = { food: 'Fine food', amountG: null, tankId: null, pumpsOffMin: 20, response: '', at };
  const { id } = await bench.change((work) => addFeeding(work, hall.systemId, fed));
  const { body } = await hand.get('/');
  expect(body).toMatch(/Pumps off[\s\S]*should be back since <time[^>]*>24 Nov 07:20[\s\S]*Rounds<\/h2>/);
  expect((await hand.post(`/water/feedings/${id}/pumps`, { back: '/' })).location).toBe('/');
  expect((await hand.get('/')).body).not.toContain('should be back since');
});

test('the digest is linked when there is one, and says of which morning it is', async () => {
  const digest = { siteId: hall.siteId, madeAt: new Date(), content: {} };
  await bench.service.db.digest.create({ data: { ...digest, day: new Date('2026-11-23') } });
  expect((await hand.get('/')).body).toMatch(/The newest digest, of <time[^>]*>23 Nov 2026/);
  await bench.service.db.digest.create({ data: { ...digest, day: new Date('2026-11-24') } });
  expect((await hand.get('/')).body).toContain('href="/digest/2026-11-24">This morning');
});
