import { afterAll, beforeAll, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { plainFinding } from '../../src/alerts/finding.ts';
import { makeDigest } from '../../src/digest/digests.ts';
import { noteCondition } from '../../src/stock/lots/conditions.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// Met on a day's trial: a system whose only alert was put off was called quiet on every page.

let bench: Bench;
let hall: Hall;
let manager: Visitor;
let name = '';
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  manager = await bench.as('manager', 'Ravi Sandomil');
  name = (await bench.service.db.system.findUniqueOrThrow({ where: { id: hall.systemId } })).name;
});
afterAll(() => bench.close());

async function evaluate(at: string) {
  bench.at(at);
  await evaluateSystems(bench.service, [hall.systemId], new Date(at));
  return openAlerts(bench.service.pool, { systemId: hall.systemId });
}
const look = (at: string, grade: 1 | 2 | 3) =>
  bench.change((work) =>
    noteCondition(work, { lotId: hall.lots.A1.id, state: 'receding', grade, note: '', at: new Date(at) }),
  );
const alkalinity = (text: string) =>
  manager.send('/api/readings', {
    systemId: hall.systemId,
    readings: [{ quantityCode: 'alkalinity', text, unit: 'dKH' }],
  });

test('a system that was never tested is not quiet anywhere, and says so', async () => {
  bench.at('2026-11-24T09:00:00Z');
  for (const url of ['/', '/water', `/water/systems/${hall.systemId}`]) {
    const { body } = await manager.get(url);
    expect(body, url).toMatch(/[Ww]ater never tested/);
    expect(body, url).not.toContain('quiet day');
    expect(body, url).not.toContain('>quiet<');
  }
});

test('put off: it is counted with its day on Today, Water, the system, the alerts, the digest and in JSON', async () => {
  expect((await alkalinity('8.0')).status).toBe(201);
  await look('2026-11-24T08:00:00Z', 1);
  const open = await evaluate('2026-11-24T09:00:00Z');
  expect(open.length).toBeGreaterThan(0);
  for (const { id } of open) {
    const put = await manager.post(`/watch/${id}/postponement`, {
      until: '2026-12-01',
      reason: 'Cut free yesterday',
    });
    expect(put.status).toBe(303);
  }
  const until = 'put off, the next until Tuesday 1 December|put off until Tuesday 1 December';
  for (const url of ['/', '/water', `/water/systems/${hall.systemId}`, '/watch'])
    expect((await manager.get(url)).body, url).toMatch(new RegExp(until));
  const json = await manager.get('/api/alerts', { accept: 'application/json' });
  expect(json.json()).toMatchObject({ open: 0, nextBack: '2026-12-01T05:00:00.000Z' });
  const digest = await makeDigest(bench.service, hall.siteId, new Date('2026-11-24T09:30:00Z'));
  expect(digest.content.lead).not.toContain('quiet');
  expect(digest.content.systems.find((system) => system.name === name)?.words).toMatch(new RegExp(until));
  expect(digest.content.putOff[0]?.words).toBe('until Tuesday 1 December: Cut free yesterday');
  const page = await manager.get('/digest/2026-11-24');
  expect(page.body).toContain('Put off');
  expect((await manager.get('/digest/2026-11-24/text')).body).toContain('Cut free yesterday');
});

test('it got worse: it is back before its day', async () => {
  await look('2026-11-25T08:00:00Z', 3);
  const open = await evaluate('2026-11-25T09:00:00Z');
  expect(open.some(({ putOffUntil }) => putOffUntil === null)).toBe(true);
  expect((await manager.get('/watch')).body).toContain('receding');
});

test('a month without a test: nothing is called quiet', async () => {
  await evaluate('2026-12-28T09:00:00Z');
  expect((await manager.get('/water')).body).toContain('water not tested since 24 Nov 2026');
});

test('more alerts than a page holds: the first page counts them all, and every one stands on a page', async () => {
  const at = new Date('2026-12-28T09:00:00Z');
  bench.at(at);
  const words = {
    numbers: '',
    why: '',
    firstStep: '',
    score: 1,
    number: { label: 'Level', text: '6.8', unit: 'dKH' },
  };
  const finding = {
    ...plainFinding,
    ...words,
    limit: { label: 'Limit', text: '7', unit: 'dKH', source: 'test' },
  };
  const told = { rule: 'out-of-band', severity: 'watch', worst: 1, openedAt: at, evaluatedAt: at } as const;
  await bench.service.db.alert.createMany({
    data: Array.from({ length: 60 }, (_, n) => ({
      ...{ ...told, title: `Matter ${n}.`, finding, facet: `of ${n}`, systemId: hall.systemId },
      ...{ subjectType: 'system' as const, subjectId: hall.systemId },
    })),
  });
  const open = (await openAlerts(bench.service.pool, { siteId: hall.siteId })).filter(
    ({ causeId }) => causeId === null,
  );
  let pages = 0;
  const titles = new Set<string>();
  for (let href: string | undefined = '/watch'; href !== undefined; pages += 1) {
    const { body }: { body: string } = await manager.get(href);
    for (const [, title] of body.matchAll(/<\/span><\/span>([^<]+) <span class="small">since/g))
      titles.add(title ?? '');
    expect(body).toContain(`${open.filter(({ severity }) => severity === 'watch').length} to watch`);
    expect(body.length).toBeLessThan(200_000);
    href = /<a class="button quiet" href="([^"]+)" rel="next">/.exec(body)?.[1]?.replace('&#x3D;', '=');
  }
  expect(pages).toBe(Math.ceil(open.length / 24));
  for (let n = 0; n < 60; n++) expect(titles).toContain(`Matter ${n}.`);
  const past = await manager.get('/watch?page=9');
  expect(past.body).toContain(`none of ${open.length}`);
  expect(past.body).toContain('rel="prev"');
});
