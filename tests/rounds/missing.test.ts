import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Hall, makeHall, planRound } from '../rounds/hall.ts';
import { freshDatabase } from '../support/database.ts';
import { type Bench, benchOn, browse, type Visitor } from '../support/service.ts';

// What the farm has not said yet stands on Today, each thing with the form where it is said, until it is done.

let bench: Bench;
let hall: Hall;
let manager: Visitor;
let owner: Visitor;

beforeAll(async () => {
  bench = await benchOn(await freshDatabase(), {
    watching: false,
    settings: { BACKUPS: 'nightly', PUBLIC_URL: undefined },
  });
  hall = await makeHall(bench);
  manager = await bench.as('manager');
  owner = await bench.as('owner');
});
afterAll(() => bench.close());

const html = { accept: 'text/html', host: 'localhost:8080' };

/** The list as somebody sees it: where each line leads, by its first words. */
async function listFor(visitor: Visitor): Promise<string[]> {
  const { body } = await visitor.get('/', html);
  const list = /<ul class="missing-list">.*?<\/ul>/s.exec(body)?.[0] ?? '';
  return [...list.matchAll(/<a href="([^"]+)"/g)].map(([, href = '']) => href);
}

describe('the list of what is missing', () => {
  test('leads to the very forms, and every form is there', async () => {
    const list = await listFor(owner);
    for (const href of [
      `/farm/tanks/${hall.tankId}/flow`,
      `/water/systems/${hall.systemId}/targets`,
      `/water/systems/${hall.systemId}/readings/new`,
      `/water/systems/${hall.systemId}/routines/new`,
      '/rounds/plans/new',
      '/water/kits',
      '/farm/contacts/new',
      '/farm/reach',
      '/backups',
    ])
      expect(list).toContain(href);
    for (const href of list) expect((await owner.get(href, html)).status, href).toBe(200);
  });

  test('a net volume far below what the tanks hold is asked about, until it is put right', async () => {
    const { db } = bench.service;
    const { volumeL } = await db.system.findUniqueOrThrow({ where: { id: hall.systemId } });
    await db.system.update({ where: { id: hall.systemId }, data: { volumeL: 1.8 } });
    expect(await listFor(owner)).toContain(`/farm/systems/${hall.systemId}`);
    await db.system.update({ where: { id: hall.systemId }, data: { volumeL } });
    expect(await listFor(owner)).not.toContain(`/farm/systems/${hall.systemId}`);
  });

  test('names the first three lots without a size in the order of their numbers, and says how many more there are', async () => {
    const { db, pool } = bench.service;
    const kind = await db.kind.findFirstOrThrow();
    const codes = ['F10', 'F2', 'G1', 'F1', 'F20'];
    await db.lot.createMany({
      data: codes.map((code) => ({
        code,
        siteId: hall.siteId,
        kindId: kind.id,
        arrivedAt: bench.service.now(),
      })),
    });
    await pool.query(
      `INSERT INTO ledger_entry (id, lot_id, change, reason, at) SELECT gen_random_uuid(), id, 2, 'received', arrived_at FROM lot WHERE code = ANY($1)`,
      [codes],
    );
    const { body } = await owner.get('/', html);
    expect(body).toContain('How large the pieces of F1, F2, F10 and 2 more are is not noted');
    expect(await listFor(owner)).toContain('/stock/F1/details');
    await pool.query(`UPDATE lot SET size_mm = 20 WHERE code IN ('F2', 'G1')`);
    expect((await owner.get('/', html)).body).toContain(
      'How large the pieces of F1, F10, F20 are is not noted',
    );
  });

  test('shows nobody what they may not do', async () => {
    expect(await listFor(manager)).not.toContain('/backups');
    const hand = await bench.as('hand');
    expect(await listFor(hand)).not.toContain('/rounds/plans/new');
    expect(await listFor(hand)).toContain(`/water/systems/${hall.systemId}/readings/new`);
    expect((await hand.get('/', html)).body).not.toContain('/not-for-us');
  });

  test('loses a line when it is done', async () => {
    await manager.post('/farm/contacts', {
      role: 'plumber',
      name: 'Ines',
      number: '555 0100',
      email: '',
      onCall: '1',
      testedOn: '',
      note: '',
    });
    await planRound(bench, hall);
    const list = await listFor(manager);
    expect(list).not.toContain('/farm/contacts/new');
    expect(list).not.toContain('/rounds/plans/new');
  });

  test('loses a line that the farm has no use for, says who said so, and takes it back', async () => {
    expect((await manager.post('/missing/routines/not-for-us', {})).status).toBe(303);
    const routines = `/water/systems/${hall.systemId}/routines/new`;
    expect(await listFor(manager)).not.toContain(routines);
    const { body } = await manager.get('/', html);
    expect(body).toMatch(/Routines<span class="small">: The manager, /);
    expect((await manager.post('/missing/routines/ask-again', {})).status).toBe(303);
    expect(await listFor(manager)).toContain(routines);
    const kinds = await bench.service.db.journalLine.findMany({
      where: { kind: { startsWith: 'missing.' } },
    });
    expect(kinds.map(({ kind }) => kind).sort()).toEqual(['missing.asked_again', 'missing.set_aside']);
  });

  test('takes no item that it never names', async () => {
    expect((await manager.post('/missing/everything/not-for-us', {})).status).toBe(404);
    expect((await manager.post('/missing/toString/not-for-us', {})).status).toBe(404);
  });
});

test('a farm that has nothing yet is led from the system to the first reading', async () => {
  const empty = await benchOn(await freshDatabase(), { watching: false });
  try {
    const first = browse(empty.app);
    const page = await first.get('/welcome');
    expect(page.body).toContain('/assets/time-zone.js');
    expect(page.body).toMatch(/Tablets.*https:\/\/farm\.example\.org/s);
    const form = {
      ...{ siteName: 'Saltgate', timeZone: 'Asia/Calcutta', name: 'Ines', email: 'ines@example.org' },
      password: 'three green lamps',
    };
    expect((await first.post('/welcome', form)).status).toBe(303);
    const next = async () => (await listFor(first))[0];
    expect(await next()).toBe('/farm/systems/new');
    await first.post('/farm/systems', { name: 'Shallow', volumeL: 900, note: '' });
    const system = await empty.service.db.system.findFirstOrThrow();
    expect(await next()).toBe(`/farm/systems/${system.id}/tanks/new`);
    await first.post(`/farm/systems/${system.id}/tanks`, {
      name: 'Tank',
      lengthMm: 200,
      widthMm: 80,
      heightMm: 40,
    });
    const tank = await empty.service.db.tank.findFirstOrThrow();
    expect(await next()).toBe(`/farm/tanks/${tank.id}/racks/new`);
  } finally {
    await empty.close();
  }
});
