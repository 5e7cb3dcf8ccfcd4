import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// Lots go from one site of the farm to another, with all that was noted of them.

let bench: Bench;
let near: Hall;
let far: Hall;
let owner: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  near = await makeHall(bench);
  far = await makeHall(bench, { apart: true });
  owner = await bench.as('owner');
});
afterAll(() => bench.close());

const lookAt = (id: string) => owner.post(`/sites/${id}/look`, {});

/** Fills in the form as the page draws it, after choosing the site. */
async function takeOver(codes: string[], to: string, reason = 'More room there') {
  const page = await owner.get(`/stock/several/site?${codes.map((code) => `lot=${code}`).join('&')}`);
  expect(page.status, page.body).toBe(200);
  const hidden = [...page.body.matchAll(/<input type="hidden" name="([^"]+)" value="([^"]*)"/g)];
  const sent = Object.fromEntries(hidden.map(([, name, value]) => [name, value]));
  return owner.post('/stock/several/site', { ...sent, site: to, reason });
}

test('a lot goes with its history; both journals say it, its tag stays true, its place is free', async () => {
  const { db } = bench.service;
  const { A1 } = near.lots;
  await owner.post(`/lots/${A1.id}/conditions`, { state: 'paling', note: 'at the rim' });
  const issued = await owner.post('/tags', { lot: A1.code, pieces: 1, reason: 'asked for' });
  const tag = await db.tag.findUniqueOrThrow({
    where: { id: String(issued.location).replace('/tags/', '') },
  });
  const said = await bench.app.inject({ url: `/t/${tag.token}/record` });

  const answer = await takeOver([A1.code], far.siteId);
  expect(answer.status, answer.body).toBe(303);

  expect((await db.lot.findUniqueOrThrow({ where: { id: A1.id } })).siteId).toBe(far.siteId);
  expect(await db.placement.count({ where: { lotId: A1.id, toAt: null } })).toBe(0);
  expect((await owner.get(`/stock/${A1.code}`)).status).toBe(404);
  for (const [siteId, kind] of [
    [near.siteId, 'site.lots_left'],
    [far.siteId, 'site.lots_came'],
  ] as const) {
    const line = await db.journalLine.findFirstOrThrow({ where: { kind, subjectId: siteId } });
    expect(JSON.stringify(line.detail)).toContain(A1.code);
  }
  expect((await bench.app.inject({ url: `/t/${tag.token}/record` })).body).toBe(said.body);

  await lookAt(far.siteId);
  const there = await owner.get(`/stock/${A1.code}`);
  expect(there.status).toBe(200);
  expect(there.body).toContain('at the rim');
  const slot = await db.slot.findFirstOrThrow({ where: { rackId: far.empty } });
  const placed = await owner.post(`/lots/${A1.id}/placements`, {
    slot: slot.id,
    rack: far.empty,
    reason: 'here now',
  });
  expect(placed.status).toBeLessThan(500);
  await lookAt(near.siteId);
});

test('a lot of which something is promised stays, and the page says why', async () => {
  const { B1 } = near.lots;
  await owner.post(`/lots/${B1.id}/holds`, { pieces: 1, buyer: 'Reef Hall', until: '2026-12-20', note: '' });
  const page = await owner.get(`/stock/several/site?lot=${B1.code}`);
  expect(page.body).toContain('held for a buyer');
  const answer = await takeOver([B1.code], far.siteId);
  expect(answer.status).toBe(409);
  expect((await bench.service.db.lot.findUniqueOrThrow({ where: { id: B1.id } })).siteId).toBe(near.siteId);
});

test('a code of the farm’s own that is taken there is said, and nothing goes half', async () => {
  const { db } = bench.service;
  await db.lot.update({ where: { id: near.lots.A2.id }, data: { ownCode: 'Blue 7' } });
  await db.lot.update({ where: { id: far.lots.A2.id }, data: { ownCode: 'blue 7' } });
  const answer = await takeOver([near.lots.A2.code], far.siteId);
  expect(answer.status).toBe(409);
  expect(answer.body).toContain('same code of your own');
  expect((await db.lot.findUniqueOrThrow({ where: { id: near.lots.A2.id } })).siteId).toBe(near.siteId);
});

test('nobody takes lots to a site that they do not manage', async () => {
  const manager = await bench.as('manager');
  await owner.post(`/people/${manager.id}/sites`, {
    [`site-${near.siteId}`]: 'manager',
    [`site-${far.siteId}`]: 'hand',
  });
  const page = await manager.get(`/stock/several/site?lot=${near.lots.A2.code}`);
  expect(page.body).toContain('no other site that you manage');
  expect(
    (await manager.post('/stock/several/site', { lot: near.lots.A2.code, site: far.siteId, reason: 'x' }))
      .status,
  ).toBeGreaterThanOrEqual(400);
});
