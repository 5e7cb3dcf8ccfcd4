import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { begin, planRound } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { newSite } from '../support/site.ts';
import { makeShelf, type Shelf } from './shelf.ts';

// Every way by which pieces leave the farm asks the same of their water: a pest that was seen on a lot goes to nobody, what
// shares its water goes with a reason, and so does what stands in a quarantine that has not ended.

let bench: Bench;
let shelf: Shelf;
let otherSite: string;
let roundId: string;
/** The lot that the pest was seen on. */
let seen: Lot;
let hand: Visitor;
let manager: Visitor;
let owner: Visitor;

interface Lot {
  id: string;
  code: string;
}

const free = ['A', 'B'].flatMap((row) => Array.from({ length: 12 }, (_, i) => `${row}${i + 1}`));
const placed = () => shelf.lot({ pieces: 5, slotIds: [shelf.slot(free.shift() as string)] });
const left = async ({ id }: Lot) => {
  const { pieces, siteId } = await bench.service.db.lot.findUniqueOrThrow({ where: { id } });
  return siteId === shelf.siteId ? pieces : 0;
};
const reasonsOf = async ({ id }: Lot, reason: string) =>
  bench.service.db.keptApartReason.count({ where: { lotId: id, reason } });

/** Fills in a form about one lot as its page draws it, with what it says would happen. */
async function several(path: string, { code }: Lot, form: Record<string, string>) {
  const first = await owner.post(path, { ticked: code, agreed: '', ...form });
  const hidden = [...first.body.matchAll(/<input type="hidden" name="([^"]+)" value="([^"]*)"/g)];
  const drawn = Object.fromEntries(hidden.map(([, name, value]) => [name, value]));
  return { ...(await owner.post(path, { ...drawn, ...form })), first: first.body };
}

async function heldOrder(lot: Lot, why: string): Promise<string> {
  const form = { buyer: 'Reef room', until: '2026-12-01', do: 'hold', ticked: lot.code, despite: why };
  const made = await hand.post('/stock/orders', { ...form, [`pieces_${lot.code}`]: 1 });
  expect(made.status, made.body).toBe(303);
  return made.location ?? '';
}

async function found(lot: Lot): Promise<string> {
  const { db } = bench.service;
  const begun = await db.stocktake.findFirst({ where: { closedAt: null } });
  if (begun === null)
    expect((await manager.post('/stock/stocktakes', { name: 'November' })).status).toBe(303);
  const { id } = await db.stocktake.findFirstOrThrow({ where: { closedAt: null } });
  for (const _ of [1, 2])
    await hand.post(`/stock/stocktakes/${id}/racks/${shelf.rackId}`, { [`n_${lot.id}`]: '4' });
  return (await db.stocktakeLine.findFirstOrThrow({ where: { stocktakeId: id, lotId: lot.id } })).id;
}

/** Takes one piece of a lot away, or the whole lot; `why` is the reason, '' where none is given. */
const ways: Record<string, (lot: Lot, why: string) => Promise<{ status: number; body: string }>> = {
  'a sale on its page': ({ id }, despite) => hand.post(`/lots/${id}/sales`, { pieces: '1', despite }),
  'a sale as JSON': ({ id }, despite) => hand.send(`/api/lots/${id}/sales`, { pieces: 1, despite }),
  'a count that says sold': ({ id }, despite) =>
    hand.post(`/lots/${id}/ledger`, { reason: 'sold', pieces: '1', despite }),
  'a count as JSON that says sold': ({ id }, despite) =>
    hand.send(`/api/lots/${id}/ledger`, { reason: 'sold', pieces: 1, despite }),
  'a tag with “sold now”': ({ code }, reason) =>
    manager.post('/tags', { lot: code, pieces: '1', reason, sold: 'yes', hereAlone: 'yes' }),
  'an order that is handed over': async (lot, despite) => {
    const path = await heldOrder(lot, 'Held for a friend');
    const { version } = await bench.service.db.salesOrder.findUniqueOrThrow({
      where: { id: path.split('/').at(-1) ?? '' },
    });
    return hand.post(`${path}/stage`, { to: 'gone', version, despite });
  },
  'a difference of a stocktake that was a sale': async (lot, despite) =>
    hand.post(`/stock/stocktakes/lines/${await found(lot)}`, { as: 'sold', difference: '-1', despite }),
};

/** By these pieces go to somebody as well, with no sale. */
const given: typeof ways = {
  'a count that says given away': ({ id }, despite) =>
    hand.post(`/lots/${id}/ledger`, { reason: 'lost', cause: 'given_away', pieces: '1', despite }),
  'a count as JSON that says given away': ({ id }, despite) =>
    hand.send(`/api/lots/${id}/ledger`, { reason: 'lost', cause: 'given_away', pieces: 1, despite }),
  'a look that says given away': ({ id }, note) =>
    hand.post(`/lots/${id}/conditions`, { state: 'lost', lostPieces: '1', cause: 'given_away', note }),
  'an entry of a round that says given away': async ({ id }, note) => {
    const entry = {
      id: uuidv7(),
      kind: 'condition',
      lotId: id,
      rackId: shelf.rackId,
      state: 'lost',
      pieces: 4,
    };
    const said = await hand.send(`/api/rounds/${roundId}/entries`, [{ ...entry, cause: 'given_away', note }]);
    const [one] = (said.json() as { entries: { outcome: string }[] }).entries;
    return { status: one?.outcome === 'taken' ? 200 : 409, body: said.body };
  },
  'a difference of a stocktake that was given away': async (lot, note) => {
    const form = { as: 'lost', cause: 'given_away', difference: '-1', note };
    return hand.post(`/stock/stocktakes/lines/${await found(lot)}`, form);
  },
};

const isDone = (status: number) => status === 303 || status === 201 || status === 200;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  otherSite = (await newSite(bench.service.db, 'Far Quay')).id;
  shelf = await makeShelf(bench);
  const { id: tankId } = await bench.service.db.tank.findFirstOrThrow({
    where: { systemId: shelf.systemId },
  });
  const hall = { siteId: shelf.siteId, tankId };
  roundId = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
  [hand, manager, owner] = [await bench.as('hand'), await bench.as('manager'), await bench.as('owner')];
  seen = await placed();
  const look = { state: 'pest', grade: '1', pest: 'acropora_flatworm', pestCount: '4', note: '' };
  expect((await hand.post(`/lots/${seen.id}/conditions`, look)).status).toBe(303);
});
afterAll(() => bench.close());

describe.each([
  { kind: 'sold', all: ways },
  { kind: 'given away', all: given },
])('pieces $kind out of water that is under watch for a pest', ({ kind, all }) => {
  test.each(Object.keys(all))(
    'by %s: none of the lot it was seen on, its neighbours with a reason',
    async (name) => {
      const way = all[name] as (typeof ways)[string];
      const beside = await placed();
      const why = `${name}: whoever takes it knows`;
      const refused = await way(seen, why);
      expect(refused.status).toBe(409);
      expect(refused.body).toContain('is refused until the watch has ended');
      const asked = await way(beside, '');
      expect(asked.status).toBe(409);
      expect(asked.body).toContain('is under watch for');
      expect([await left(seen), await left(beside)]).toEqual([5, 5]);
      const done = await way(beside, why);
      expect(isDone(done.status), done.body).toBe(true);
      expect(await left(beside)).toBe(4);
      expect(await reasonsOf(beside, why)).toBeGreaterThan(0);
      const lines = await bench.service.db.orderLine.findMany({
        where: { lotId: beside.id, saleId: { not: null }, order: { stage: 'gone' } },
      });
      expect(lines.map(({ pieces }) => pieces)).toEqual(kind === 'sold' ? [1] : []);
      const watch = await bench.service.db.pestWatch.findFirstOrThrow({ where: { endedAt: null } });
      expect((await hand.get(`/stock/pests/${watch.id}`)).body).toContain(
        kind === 'sold' ? 'Sold to' : 'Given away',
      );
    },
  );
});

describe('whole lots out of water that is under watch for a pest', () => {
  test('are not given away where it was seen on them, and with the reason beside it', async () => {
    const beside = await placed();
    const holds = await bench.service.db.hold.findMany({ where: { lotId: seen.id, releasedAt: null } });
    for (const { id } of holds) await hand.post(`/holds/${id}/release`, { reason: '' });
    const form = { reason: 'lost', cause: 'given_away', note: 'To the school, which knows' };
    const refused = await several('/stock/several/retirement', seen, form);
    expect(refused.status).toBe(409);
    expect(refused.first).toContain('is refused until the watch has ended');
    const done = await several('/stock/several/retirement', beside, form);
    expect(done.status, done.body).toBe(303);
    expect([await left(seen), await left(beside)]).toEqual([5, 0]);
    expect(await reasonsOf(beside, form.note)).toBe(1);
  });

  test('go to another site with the reason kept, after the page has said so', async () => {
    const lot = await placed();
    const form = { site: otherSite, reason: 'To be treated there' };
    const page = await owner.get(`/stock/several/site?lot=${lot.code}`);
    expect(page.body).toContain('is under watch for');
    const done = await several('/stock/several/site', lot, form);
    expect(done.status, done.body).toBe(303);
    expect(await left(lot)).toBe(0);
    expect(await reasonsOf(lot, form.reason)).toBe(1);
  });
});

test('the page of a count says beforehand what the water asks', async () => {
  const page = await hand.get(`/stock/${seen.code}/count`);
  expect(page.body).toContain('For what is sold or given away:');
  expect(page.body).toContain('is under watch for');
});

test('pieces held for a buyer are not sold by a count', async () => {
  const lot = await shelf.lot({ pieces: 2 });
  await hand.post(`/lots/${lot.id}/holds`, { pieces: '2', buyer: 'Reef room', until: '2026-12-01' });
  const sold = await hand.post(`/lots/${lot.id}/ledger`, { reason: 'sold', pieces: '1' });
  expect(sold.body).toContain('held for other buyers');
  expect(await left(lot)).toBe(2);
});
