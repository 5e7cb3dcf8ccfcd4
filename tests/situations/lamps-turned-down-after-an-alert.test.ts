import { afterAll, beforeAll, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Ground, layGround, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// Met on a day's trial: lamps were turned down as an alert asked; a quarter of an hour later it asked for the same again.

let bench: Bench;
let hand: Visitor;
let ground: Ground;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hand = await bench.as('hand', 'Nela Orvalho');
  ground = await layGround(bench);
  const kind = await bench.service.db.kind.findFirstOrThrow({ where: { name: 'Platygyra daedalea' } });
  for (const slot of ['A1', 'A2', 'A3']) {
    const id = await lot(bench, ground.siteId);
    await bench.service.db.lot.update({ where: { id }, data: { kindId: kind.id } });
    await place(bench, id, [ground.slots[slot]], '2026-06-01T10:00Z');
  }
  await turn(bench, ground.lampId, '2026-05-01T00:00:00Z', 60);
  await survey(bench, ground, '2026-06-01T10:00:00Z', 60, 110);
  await turn(bench, ground.lampId, '2026-11-20T09:00:00Z', 90);
});
afterAll(() => bench.close());

async function evaluate(at: string) {
  bench.at(at);
  await evaluateSystems(bench.service, [ground.systemId], new Date(at));
  const open = await openAlerts(bench.service.pool, { systemId: ground.systemId });
  return { open, lamp: open.find(({ subjectType }) => subjectType === 'lamp') };
}

test('lamps turned down: the alert says what was done, by whom, and asks for the survey, not for the same again', async () => {
  const { lamp: asked } = await evaluate('2026-11-20T12:00:00Z');
  expect(asked?.finding.firstStep).toContain('down to 70 %');

  bench.at('2026-11-20T12:10:00Z');
  const answer = await hand.post(`/lamps/${ground.lampId}/settings`, {
    percent: '65',
    litHours: '10',
    rampHours: '2',
    at: '2026-11-20T12:10',
    note: '',
  });
  expect(answer.status).toBe(303);
  const { open, lamp } = await evaluate('2026-11-20T12:24:00Z');
  expect(open.map(({ severity }) => severity)).not.toContain('now');
  expect(open.map(({ finding }) => finding.firstStep).join()).not.toContain('urn the lamps down');
  expect(lamp).toMatchObject({ severity: 'watch' });
  expect(lamp?.title).toMatch(/^Acted on, to be confirmed: /);
  expect(lamp?.finding.answer).toMatchObject({ by: 'Nela Orvalho', overdue: false });
  const page = await hand.get(`/watch/${lamp?.id}`);
  expect(page.body).toContain('lamps “Bars” set from 90 % to 65 %');
  expect(page.body).toContain('by Nela Orvalho');
  expect(page.body).toContain('a light survey of Window rack, by 22 Nov 12:10');
  const json = (
    await hand.get(`/api/alerts?system=${ground.systemId}`, { accept: 'application/json' })
  ).json();
  expect(json).toMatchObject({
    alerts: expect.arrayContaining([
      expect.objectContaining({ id: lamp?.id, answer: expect.objectContaining({ by: 'Nela Orvalho' }) }),
    ]),
  });
});

test('the survey does not come: the alert stays, says that it is overdue and rises again', async () => {
  const { lamp } = await evaluate('2026-11-22T13:00:00Z');
  expect(lamp).toMatchObject({ severity: 'today' });
  expect(lamp?.title).toMatch(/^Acted on, confirmation overdue: /);
  expect(lamp?.finding.firstStep).toContain('was due 22 Nov 12:10 and is missing');
  expect((await hand.get('/watch')).body).toContain('was due 22 Nov 12:10');
});

test('the survey comes: all clear, and each reason names what was done', async () => {
  await survey(bench, ground, '2026-11-22T14:00:00Z', 65, 119);
  await evaluate('2026-11-22T14:05:00Z');
  const { open } = await evaluate('2026-11-24T14:10:00Z');
  expect(open).toEqual([]);
  const cleared = await bench.service.db.alert.findMany({ where: { systemId: ground.systemId } });
  for (const { id, rule, clearedReason, title } of cleared) {
    expect(title).not.toContain('Acted on');
    if (rule === 'too-much-light') {
      const page = (await hand.get(`/watch/${id}`)).body;
      expect(page).toContain('What was to do');
      expect(page).toContain('these figures are from before');
      expect(clearedReason).toContain('lamps “Bars” set to 65 % on 20 Nov 2026');
      expect(clearedReason).toContain('Window rack surveyed on 22 Nov 2026');
    }
  }
  expect(cleared.some(({ rule }) => rule === 'too-much-light')).toBe(true);
});

test('a survey asked for because lamps were turned is not "surveyed" when they are only turned back', async () => {
  await turn(bench, ground.lampId, '2026-12-01T09:00:00Z', 40);
  const { open } = await evaluate('2026-12-04T10:00:00Z');
  expect(open.map(({ rule }) => rule)).toContain('survey-old');
  await turn(bench, ground.lampId, '2026-12-04T11:00:00Z', 65);
  await evaluate('2026-12-04T11:05:00Z');
  const cleared = await bench.service.db.alert.findFirstOrThrow({
    where: { rule: 'survey-old', clearedAt: { not: null } },
    orderBy: { clearedAt: 'desc' },
  });
  expect(cleared.clearedReason).toContain('it was not surveyed again');
  expect(cleared.clearedReason).toContain('lamps “Bars” set to 65 %');
});

test('lamps turned further up are no answer, and turned down by too little they are not enough', async () => {
  await turn(bench, ground.lampId, '2026-12-10T09:00:00Z', 90);
  const { lamp: asked } = await evaluate('2026-12-10T10:00:00Z');
  expect(asked).toMatchObject({ severity: 'today' });
  await turn(bench, ground.lampId, '2026-12-10T11:00:00Z', 95);
  const { lamp: up } = await evaluate('2026-12-10T11:05:00Z');
  expect(up?.finding.answer).toBeNull();
  expect(up?.finding.firstStep).toMatch(/^Turn the lamps down/);
  await turn(bench, ground.lampId, '2026-12-10T12:00:00Z', 92);
  const { lamp: short, open } = await evaluate('2026-12-10T12:05:00Z');
  // No page says to turn them down beside another that says to wait.
  expect(open.map(({ finding }) => finding.firstStep).join()).not.toContain('Do not do the same again');
  expect(short).toMatchObject({ severity: 'today' });
  expect(short?.title).not.toContain('Acted on');
  expect(short?.finding.firstStep).toMatch(/^Turn the lamps down/);
  const page = (await hand.get(`/watch/${short?.id}`)).body.replace(/\s+/g, ' ');
  expect(page).toMatch(/lamps “Bars” set from 95 % to 92 %.*By what is known it was not enough\./);
});
