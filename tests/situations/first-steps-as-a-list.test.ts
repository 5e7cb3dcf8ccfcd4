import { afterAll, beforeAll, expect, test } from 'vitest';
import { makeDueDigests } from '../../src/digest/digests.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// A pH of 9.7, confirmed: a person reads what to do from a wet tablet, one step at a time. The level is a keeper's report.

let bench: Bench;
let manager: Visitor;
let systemId: string;
let alertId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
  systemId = await makeSystem(bench, 'Limewater run');
  for (const [at, text] of [
    ['2026-11-10T08:00', '8.20'],
    ['2026-11-12T08:00', '8.22'],
    ['2026-11-14T08:00', '8.21'],
    ['2026-11-15T03:00', '9.70'],
    ['2026-11-15T03:10', '9.65'],
  ] as const) {
    bench.at(`${at}:00Z`);
    const reading = { quantityCode: 'ph', text, sure: true };
    expect((await manager.send('/api/readings', { systemId, at, readings: [reading] })).status).toBe(201);
  }
  await evaluateSystems(bench.service, [systemId], bench.service.now());
  const { alerts } = (await manager.get(`/api/alerts?system=${systemId}`)).json() as {
    alerts: { id: string; rule: string; steps: { text: string }[] }[];
  };
  const alert = alerts.find(({ rule }) => rule === 'out-of-band');
  alertId = alert?.id ?? '';
  expect(alert?.steps.length).toBeGreaterThan(3);
});
afterAll(() => bench.close());

const items = (html: string): string[] =>
  [...(html.match(/<ol class="steps">([\s\S]*?)<\/ol>/)?.[1] ?? '').matchAll(/<li>([\s\S]*?)<\/li>/g)].map(
    ([, item = '']) => item.replaceAll(/<[^>]*>/g, '').trim(),
  );

test('the alert says first what to do as an ordered list, a step each', async () => {
  const steps = items((await manager.get(`/watch/${alertId}`)).body);
  expect(steps.length).toBeGreaterThan(3);
  expect(steps.filter((step) => step.split(' ').length > 40)).toEqual([]);
  expect(items((await manager.get('/watch')).body)).toEqual(steps);
});

test('today says the first step, and how many there are', async () => {
  const { body } = await manager.get('/');
  expect(body).toMatch(/First, step 1 of \d+/);
});

test('the digest says the first step alone; its letter lists all of what is to be done now', async () => {
  bench.at('2026-11-15T09:30:00Z');
  await makeDueDigests(bench.service, new Date('2026-11-15T09:30:00Z'));
  const steps = items((await manager.get(`/watch/${alertId}`)).body);
  const page = (await manager.get('/digest')).body.replaceAll(/<[^>]*>/g, '');
  expect(page).toContain(steps[0]);
  expect(page).not.toContain(steps[2]);
  const letter = (await manager.get('/digest/2026-11-15/text')).body;
  for (const step of steps) expect(letter).toContain(step);
});
