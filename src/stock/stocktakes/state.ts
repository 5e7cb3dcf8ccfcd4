import type { Cell } from '../../farm/racks/slots.rules.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound } from '../../platform/refusal.ts';
import { type CountState, countState, type Reason, type TakenCount } from './counts.rules.ts';

/** A stocktake with how far it is. */
export interface Stocktake {
  id: string;
  siteId: string;
  name: string;
  hidden: boolean;
  twoPeople: boolean;
  startedAt: Date;
  startedBy: string | null;
  closedAt: Date | null;
  closedBy: string | null;
  note: string;
}

/** A rack that a stocktake asks for. */
export interface CountedRack {
  id: string;
  name: string;
  tank: string;
  systemId: string;
  system: string;
  rows: number;
  columns: number;
  /** In walking order. */
  position: number;
}

/** One lot on one rack as a stocktake has it. */
export interface StocktakeLot {
  /** Null while nothing was said of it. */
  lineId: string | null;
  rackId: string;
  /** Null while nobody knows which lot it is; then `foundAs` says what it was called. */
  lotId: string | null;
  code: string;
  ownCode: string;
  kind: string;
  cells: Cell[];
  slots: string;
  foundAs: string;
  /** Where it stands by the records: this rack, another one by name, or null for none. */
  standsHere: boolean;
  standsOn: string | null;
  /** Pieces by the records now, and how many of them lie packed for orders. */
  pieces: number;
  packed: number;
  counts: TakenCount[];
  reason: Reason | null;
  note: string;
  settledBy: string | null;
  is: CountState;
}

const stocktakeQuery = `
  SELECT taken.id, taken.site_id AS "siteId", taken.name, taken.hidden, taken.two_people AS "twoPeople", taken.started_at AS "startedAt",
         starter.name AS "startedBy", taken.closed_at AS "closedAt", closer.name AS "closedBy", taken.note
    FROM stocktake AS taken
    LEFT JOIN account AS starter ON starter.id = taken.started_by_id LEFT JOIN account AS closer ON closer.id = taken.closed_by_id`;

/** A site's stocktakes, the open one first, then the newest. One query. */
export async function listStocktakes(reader: SqlReader, siteId: string): Promise<Stocktake[]> {
  const order = 'ORDER BY taken.closed_at IS NULL DESC, taken.started_at DESC, taken.id';
  return (
    await reader.query<Stocktake>(`${stocktakeQuery} WHERE taken.site_id = $1::uuid ${order}`, [siteId])
  ).rows;
}

/** @throws Refusal 404 */
export async function findStocktake(reader: SqlReader, id: string): Promise<Stocktake> {
  const { rows } = await reader.query<Stocktake>(`${stocktakeQuery} WHERE taken.id = $1::uuid`, [id]);
  if (rows[0] === undefined) throw notFound('This stocktake');
  return rows[0];
}

/** The stocktake that is open at a site; null where none is. One query. */
export async function openStocktake(reader: SqlReader, siteId: string): Promise<Stocktake | null> {
  const { rows } = await reader.query<Stocktake>(
    `${stocktakeQuery} WHERE taken.site_id = $1::uuid AND taken.closed_at IS NULL`,
    [siteId],
  );
  return rows[0] ?? null;
}

const racksQuery = `
  SELECT rack.id, rack.name, tank.name AS tank, system.id AS "systemId", system.name AS system, rack.rows, rack.columns, asked.position
    FROM stocktake_rack AS asked JOIN rack ON rack.id = asked.rack_id JOIN tank ON tank.id = rack.tank_id
    JOIN system ON system.id = tank.system_id
   WHERE asked.stocktake_id = $1::uuid ORDER BY asked.position, rack.id`;

/** The racks that a stocktake asks for, in walking order. One query. */
export async function racksOf(reader: SqlReader, stocktakeId: string): Promise<CountedRack[]> {
  return (await reader.query<CountedRack>(racksQuery, [stocktakeId])).rows;
}

/**
 * Pieces of a lot on a rack by the records at the time of a count `taken` of a line `line`: those of the lot where it
 * stood there then, else none.
 */
export const expectedThen = `CASE WHEN EXISTS (
    SELECT 1 FROM placement JOIN placement_slot AS held ON held.placement_id = placement.id JOIN slot ON slot.id = held.slot_id
     WHERE placement.lot_id = line.lot_id AND slot.rack_id = line.rack_id AND placement.from_at <= taken.at
       AND (placement.to_at IS NULL OR placement.to_at > taken.at))
  THEN (SELECT coalesce(sum(change), 0)::int FROM ledger_entry WHERE ledger_entry.lot_id = line.lot_id AND ledger_entry.voided_at IS NULL AND ledger_entry.at <= taken.at)
  ELSE 0 END`;

// While it is open and not settled, a count stands beside what the records say of its time by now.
const lotsQuery = `
  WITH standing AS (
    SELECT lot_id, rack_id, json_agg(json_build_object('row', row, 'column', "column") ORDER BY row, "column") AS cells,
           string_agg(slot_name, ' ' ORDER BY row, "column") AS slots, min(row * 100 + "column") AS first
      FROM lot_place WHERE rack_id = ANY($2::uuid[]) AND $3::boolean GROUP BY lot_id, rack_id),
  line AS (SELECT * FROM stocktake_line WHERE stocktake_id = $1::uuid AND rack_id = ANY($2::uuid[])),
  counted AS (
    SELECT line.id, json_agg(json_build_object('pieces', taken.pieces, 'at', taken.at, 'byId', taken.account_id, 'by', coalesce(account.name, ''),
             'expected', CASE WHEN $3::boolean AND line.settled_at IS NULL THEN ${expectedThen} ELSE taken.expected END) ORDER BY taken.at, taken.id) AS counts
      FROM line JOIN stocktake_count AS taken ON taken.line_id = line.id AND taken.voided_at IS NULL
      LEFT JOIN account ON account.id = taken.account_id GROUP BY line.id)
  SELECT line.id AS "lineId", coalesce(standing.rack_id, line.rack_id) AS "rackId", lot.id AS "lotId", coalesce(lot.code, '') AS code,
         coalesce(lot.own_code, '') AS "ownCode", coalesce(kind.name, '') AS kind, coalesce(standing.cells, '[]') AS cells,
         coalesce(standing.slots, '') AS slots, coalesce(line.found_as, '') AS "foundAs", standing.lot_id IS NOT NULL AS "standsHere",
         (SELECT min(rack_name) FROM lot_place WHERE lot_place.lot_id = lot.id) AS "standsOn", coalesce(lot.pieces, 0) AS pieces,
         coalesce((SELECT sum(hold.pieces)::int FROM order_line JOIN hold ON hold.id = order_line.hold_id AND hold.released_at IS NULL
                     JOIN sales_order ON sales_order.id = order_line.order_id AND sales_order.stage = 'packed' WHERE order_line.lot_id = lot.id), 0) AS packed,
         coalesce(counted.counts, '[]') AS counts, line.reason, coalesce(line.note, '') AS note, settler.name AS "settledBy"
    FROM standing FULL JOIN line ON line.lot_id = standing.lot_id AND line.rack_id = standing.rack_id
    LEFT JOIN counted ON counted.id = line.id
    LEFT JOIN lot ON lot.id = coalesce(standing.lot_id, line.lot_id) LEFT JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN account AS settler ON settler.id = line.settled_by_id
    LEFT JOIN unnest($2::uuid[]) WITH ORDINALITY AS asked(rack_id, place) ON asked.rack_id = coalesce(standing.rack_id, line.rack_id)
   ORDER BY asked.place, standing.first NULLS LAST, lot.code, line.found_as, line.id`;

type LotRow = Omit<StocktakeLot, 'counts' | 'is'> & {
  counts: (Omit<TakenCount, 'at'> & { at: string })[];
};

/** Whether a line says anything: one whose only count was taken back on a round says nothing any more. */
const says = ({ standsHere, counts, reason }: LotRow, isOpen: boolean) =>
  standsHere || counts.length > 0 || reason !== null || !isOpen;

/**
 * The lots of a stocktake on these racks, in the order of the shelves: those that stand there now and those it says
 * something of; of a closed one, as it was closed. One query.
 */
export async function lotsOf(
  reader: SqlReader,
  { id, twoPeople, closedAt }: Pick<Stocktake, 'id' | 'twoPeople' | 'closedAt'>,
  rackIds: readonly string[],
): Promise<StocktakeLot[]> {
  const isOpen = closedAt === null;
  const { rows } = await reader.query<LotRow>(lotsQuery, [id, [...rackIds], isOpen]);
  return rows
    .filter((row) => says(row, isOpen))
    .map(({ counts: taken, ...row }) => {
      const counts = taken.map(({ at, ...count }) => ({ ...count, at: new Date(at) }));
      return { ...row, counts, is: countState(counts, { twoPeople, settled: row.reason !== null }) };
    });
}

/** A stocktake that is open, with its racks and their lots, as rounds show it. */
export interface OpenCount {
  stocktake: Stocktake;
  racks: CountedRack[];
  lots: Map<string, StocktakeLot[]>;
}

/** What is to be counted at a site now; null where no stocktake is open. Three queries. */
export async function openCount(reader: SqlReader, siteId: string): Promise<OpenCount | null> {
  const stocktake = await openStocktake(reader, siteId);
  if (stocktake === null) return null;
  const racks = await racksOf(reader, stocktake.id);
  const ids = racks.map(({ id }) => id);
  const lots = await lotsOf(reader, stocktake, ids);
  return { stocktake, racks, lots: Map.groupBy(lots, ({ rackId }) => rackId) };
}

/** How many lots there are, how many still want a count, and how many differ. */
export function progressOf(lots: readonly StocktakeLot[]) {
  const count = (...states: CountState['state'][]) =>
    lots.filter(({ is }) => states.includes(is.state)).length;
  return {
    all: lots.length,
    left: count('open', 'again'),
    again: count('again'),
    differ: count('differs'),
    right: count('right'),
    settled: count('settled'),
  };
}

/** The stocktake and the rack of a line; null where there is no such line. One query. */
export async function stocktakeOfLine(
  reader: SqlReader,
  lineId: string,
): Promise<{ stocktakeId: string; rackId: string } | null> {
  const { rows } = await reader.query<{ stocktakeId: string; rackId: string }>(
    'SELECT stocktake_id AS "stocktakeId", rack_id AS "rackId" FROM stocktake_line WHERE id = $1::uuid',
    [lineId],
  );
  return rows[0] ?? null;
}
