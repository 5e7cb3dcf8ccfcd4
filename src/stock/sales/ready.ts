import type pg from 'pg';
import { lotsToldOf } from '../../alerts/lot-alerts.ts';
import { memoize } from '../../platform/memoize.ts';
import { freeOf, judgeStock, LATELY_MS, mayBeSold, type StockLot, type StockRack } from './ready.rules.ts';
import { stockLots } from './stock-lots.ts';

/** How many lots a site has, and of how many nothing speaks against selling the free pieces. */
export interface ReadySum {
  /** With pieces left. */
  inStock: number;
  lots: number;
  pieces: number;
}

const rackQuery = `
  SELECT rack.id, tank.quarantine, extract(epoch FROM rack_passed.at)::float8 * 1000 AS "passedMs", rack_passed.unsaid,
         EXISTS (SELECT FROM pest_watch WHERE pest_watch.system_id = tank.system_id AND ended_at IS NULL
                    AND pest_watch.tank_id IS NOT DISTINCT FROM CASE WHEN tank.own_water <> '' THEN tank.id END) AS watched,
         tank.own_water = '' AND EXISTS (SELECT FROM water_trouble WHERE water_trouble.system_id = tank.system_id) AS troubled
    FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
    LEFT JOIN rack_passed ON rack_passed.rack_id = rack.id
   WHERE system.site_id = $1`;

const refusedQuery = 'SELECT lot_id AS id, bool_or(open) AS open FROM note_refused GROUP BY lot_id';

const promisedQuery =
  'SELECT lot_id AS id, sum(pieces)::int AS pieces FROM hold WHERE released_at IS NULL GROUP BY lot_id';

// The passes of racks on which a lot stood before are looked up only where one of them can count.
const lookedQuery = 'SELECT lot_id AS id FROM lot_look WHERE lot_id = ANY($1::uuid[]) AND at > $2';

const offered = memoize((lots: readonly StockLot[]) => lots.filter(mayBeSold));

/** The lots of a site with pieces, and those among them that nothing speaks against. Eleven small queries. */
async function judged(pool: pg.Pool, siteId: string, now: Date) {
  const [lists, racks, promised, warned, refused] = await Promise.all([
    stockLots(pool, siteId),
    pool.query<StockRack & { id: string; unsaid: string[] | null }>(rackQuery, [siteId]),
    pool.query<{ id: string; pieces: number }>(promisedQuery),
    lotsToldOf(pool),
    pool.query<{ id: string; open: boolean }>(refusedQuery),
  ]);
  const ids = (rows: readonly { id: string }[]) => rows.map(({ id }) => id);
  const at = {
    nowMs: now.getTime(),
    racks: new Map(racks.rows.map((rack) => [rack.id, rack])),
    promised: new Map(promised.rows.map(({ id, pieces }) => [id, pieces])),
    warned,
    noteWaits: new Set(ids(refused.rows.filter(({ open }) => open))),
    unsaid: new Set([...ids(refused.rows), ...racks.rows.flatMap(({ unsaid }) => unsaid ?? [])]),
  };
  const may = lists.flatMap((lots) => offered(lots).map((lot) => ({ lot, is: judgeStock(lot, at) })));
  const asked = may.flatMap(({ lot, is }) => (is === 'unless not looked at' ? [lot.id] : []));
  const since = new Date(at.nowMs - LATELY_MS);
  const looked =
    asked.length === 0 ? [] : (await pool.query<{ id: string }>(lookedQuery, [asked, since])).rows;
  const lookedAt = new Set(looked.map(({ id }) => id));
  const ready = may.flatMap(({ lot, is }) => (is === 'ready' || lookedAt.has(lot.id) ? [lot] : []));
  const sum = {
    inStock: lists.reduce((count, lots) => count + lots.length, 0),
    lots: ready.length,
    pieces: ready.reduce((pieces, lot) => pieces + freeOf(lot, at), 0),
  };
  return { lists, ready, sum };
}

const kindsQuery = 'SELECT DISTINCT name FROM kind ORDER BY name';

/**
 * The lots from one place to another in the order of their kinds' names, which is the database's, and of their codes, which
 * are of capitals and digits. Only what is shown is put in order.
 */
async function inOrder(pool: pg.Pool, lots: readonly StockLot[], from = 0, to = lots.length) {
  if (from >= to) return [];
  const names = (await pool.query<{ name: string }>(kindsQuery)).rows.map(({ name }) => name);
  const byKind = Map.groupBy(lots, ({ kind }) => kind);
  const found: StockLot[] = [];
  let passed = 0;
  for (const name of names) {
    const of = byKind.get(name) ?? [];
    if (passed < to && passed + of.length > from) {
      const sorted = [...of].sort((a, b) => (a.code < b.code ? -1 : 1));
      found.push(...sorted.slice(Math.max(0, from - passed), to - passed));
    }
    passed += of.length;
  }
  return found;
}

/**
 * How many of a site's lots are ready to sell, and one page of them or (`ready` false) of the others, by kind and code.
 * Twelve small queries, however many lots.
 */
export async function readyPage(
  pool: pg.Pool,
  siteId: string,
  { ready, page, perPage }: { ready: boolean; page: number; perPage: number },
  now: Date,
): Promise<{ sum: ReadySum; ids: string[] }> {
  const all = await judged(pool, siteId, now);
  const those = new Set(all.ready);
  const shown = ready ? all.ready : all.lists.flatMap((lots) => lots.filter((lot) => !those.has(lot)));
  const lots = await inOrder(pool, shown, (page - 1) * perPage, page * perPage);
  return { sum: all.sum, ids: lots.map(({ id }) => id) };
}

/** How many of a site's lots are ready to sell. */
export const readySum = async (pool: pg.Pool, siteId: string, now: Date): Promise<ReadySum> =>
  (await judged(pool, siteId, now)).sum;

/** Every lot of a site that is ready to sell, by kind and code. */
export async function readyLots(
  pool: pg.Pool,
  siteId: string,
  now: Date,
): Promise<{ id: string; code: string }[]> {
  const lots = await inOrder(pool, (await judged(pool, siteId, now)).ready);
  return lots.map(({ id, code }) => ({ id, code }));
}
