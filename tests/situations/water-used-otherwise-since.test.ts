import { afterAll, beforeAll, expect, test } from 'vitest';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// A reactor is started: alkalinity was used at 0.3 dKH a day, and from then on at 0.1. Figures made up.

let bench: Bench;
let hand: Visitor;
let systemId: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench, 'Shallow');
  hand = await bench.as('hand', 'Bea');
  const levels = [9.4, 9.1, 8.8, 8.5, 8.2, 7.9, 7.6, 7.5, 7.4, 7.3, 7.2, 7.1, 7.0];
  for (const [i, level] of levels.entries()) {
    bench.at(new Date(Date.UTC(2026, 10, 12 + i, 8)));
    const readings = [{ quantityCode: 'alkalinity', text: String(level), unit: 'dKH', sure: true }];
    expect((await hand.send('/api/readings', { systemId, readings })).status).toBe(201);
  }
});
afterAll(() => bench.close());

const path = () => `/farm/systems/${systemId}/events`;

test('what changed is logged in two taps, drawn with its words, and what is learnt begins there', async () => {
  const page = (await hand.get(`/water/systems/${systemId}`)).body;
  expect(page).toContain(`href="${path()}"`);
  const logged = await hand.post(path(), { kind: 'reactor_started', at: '2026-11-18T07:00' });
  expect(logged.status).toBe(303);
  expect((await hand.get(`/water/systems/${systemId}?quantity=alkalinity`)).body).toContain(
    'Reactor started',
  );
  expect((await hand.get(`/water/systems/${systemId}?quantity=alkalinity`)).body).toContain(
    'Marked: Reactor started 18 Nov 07:00.',
  );
  const demand = (await hand.get(`/water/systems/${systemId}/demand`)).body;
  expect(demand).toMatch(/Learned since 18 Nov 2026, 6 days: reactor started/);
  expect((await hand.get(`/water/systems/${systemId}/nutrients`)).body).toContain(
    'Learned since 18 Nov 2026',
  );
});

test('an event that was a mistake is taken back with a reason, and the past counts again', async () => {
  const { id } = await bench.service.db.systemEvent.findFirstOrThrow();
  expect((await hand.post(`${path()}/${id}/void`, { reason: '' })).status).toBe(422);
  await hand.post(`${path()}/${id}/void`, { reason: 'other system' });
  expect((await hand.get(`/water/systems/${systemId}/demand`)).body).not.toContain('Learned since');
  expect((await hand.get(path())).body).toContain('taken back: other system');
});

test('nothing is logged without saying what, or ahead of its time', async () => {
  expect((await hand.post(path(), { kind: 'rain' })).status).toBe(422);
  expect((await hand.post(path(), { kind: 'new_salt', at: '2026-12-18T07:00' })).status).toBe(422);
});

test('an alert on a habit of before ends with the event as its reason, not as if the habit had come back', async () => {
  const { db } = bench.service;
  bench.at('2026-11-24T09:00:00Z');
  const told = await db.alert.create({
    data: {
      ...{ rule: 'demand-changed', subjectType: 'system', subjectId: systemId, systemId, severity: 'today' },
      ...{
        title: 'Shallow: alkalinity is used slower',
        finding: { reported: { score: 1, severity: 'today' } },
      },
      ...{
        worst: 1,
        openedAt: new Date('2026-11-10T08:00:00Z'),
        evaluatedAt: new Date('2026-11-10T08:00:00Z'),
      },
    },
  });
  await hand.post(path(), { kind: 'new_salt', at: '2026-11-20T07:00' });
  await evaluateSystems(bench.service, [systemId], bench.service.now());
  const { clearedAt, clearedReason } = await db.alert.findUniqueOrThrow({ where: { id: told.id } });
  expect(clearedAt).not.toBeNull();
  expect(clearedReason).toBe('new salt on 20 Nov 2026: this water’s habits are learnt again from there');
});

test('what was off stands as a bar on the chart, and in its words', async () => {
  const { db } = bench.service;
  const off = { systemId, thing: 'heating' as const, why: 'cleaning' };
  const at = (text: string) => new Date(`2026-11-${text}:00Z`);
  const due = { dueAt: at('20T09:00'), lateAt: at('20T10:00') };
  await db.switchedOff.create({
    data: { ...off, ...due, what: 'Heater left', offAt: at('20T08:00'), seenRunningAt: at('20T09:10') },
  });
  await db.switchedOff.create({ data: { ...off, ...due, what: 'Heater right', offAt: at('20T08:30') } });
  const { body } = await hand.get(`/water/systems/${systemId}?quantity=alkalinity`);
  expect(body.match(/<rect class="span"/g)).toHaveLength(4);
  expect(body).toContain(
    'Bars: Heater left off 20 Nov 08:00 to 20 Nov 09:10; Heater right off 20 Nov 08:30, not seen running yet.',
  );
});
