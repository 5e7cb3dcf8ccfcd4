import { afterAll, beforeAll, expect, test } from 'vitest';
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
