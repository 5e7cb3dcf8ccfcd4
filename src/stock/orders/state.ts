import type { Cell } from '../../farm/racks/slots.rules.ts';
import type { OrderStage } from '../../generated/prisma/enums.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound } from '../../platform/refusal.ts';
import { calledBy } from '../base/codes.ts';
import { placeWords } from '../places/slots.ts';

/** An order as its pages show it. */
export interface OrderState {
  id: string;
  number: number;
  buyer: string;
  contact: string;
  note: string;
  freeLine: string;
  freeLineMinor: number | null;
  currency: string | null;
  /** "2026-12-01". */
  until: string;
  stage: OrderStage;
  version: number;
  createdAt: Date;
  lines: OrderLineState[];
  stages: StageState[];
}

/** One line of an order, with its lot as it is now. */
export interface OrderLineState {
  id: string;
  lotId: string;
  code: string;
  ownCode: string;
  called: string;
  tradeName: string;
  /** What the farm wrote of the lot. */
  lotNote: string;
  kind: string;
  /** As it is identified, else its kind. */
  species: string;
  pieces: number;
  priceMinor: number | null;
  /** Pieces of the lot that are there, and those promised to anybody. */
  there: number;
  promised: number;
  place: string;
  tagId: string | null;
  deadOnArrival: number | null;
  backPieces: number;
  writtenOffPieces: number;
  backCode: string | null;
}

export interface StageState {
  from: OrderStage | null;
  stage: OrderStage;
  reason: string;
  at: Date;
  by: string | null;
}

const orderQuery = `
  SELECT it.id, it.number, it.buyer, it.contact, it.note, it.free_line AS "freeLine", it.free_line_minor AS "freeLineMinor",
         it.currency, it.hold_until::text AS until, it.stage, it.version, it.created_at AS "createdAt"
    FROM sales_order AS it WHERE it.id = $1::uuid`;

const linesQuery = `
  SELECT line.id, line.lot_id AS "lotId", lot.code, lot.own_code AS "ownCode", lot.trade_name AS "tradeName", lot.note AS "lotNote", kind.name AS kind,
         coalesce((SELECT scientific_name FROM identification WHERE lot_id = lot.id
                    ORDER BY date_identified DESC, created_at DESC LIMIT 1), kind.name) AS species,
         line.pieces, line.price_minor AS "priceMinor", lot.pieces AS there,
         coalesce((SELECT sum(pieces)::int FROM hold WHERE lot_id = lot.id AND released_at IS NULL), 0) AS promised,
         place.rack, place.cells, line.tag_id AS "tagId", line.dead_on_arrival AS "deadOnArrival",
         line.back_pieces AS "backPieces", line.written_off_pieces AS "writtenOffPieces", back.code AS "backCode"
    FROM order_line AS line JOIN lot ON lot.id = line.lot_id JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN lot AS back ON back.id = line.back_lot_id
    LEFT JOIN LATERAL (SELECT min(rack_name) AS rack, json_agg(json_build_object('row', "row", 'column', "column") ORDER BY "row", "column") AS cells
                         FROM lot_place WHERE lot_id = lot.id) AS place ON true
   WHERE line.order_id = $1::uuid ORDER BY line.position, line.id`;

const stagesQuery = `
  SELECT step.from_stage AS "from", step.stage, step.reason, step.at, account.name AS by
    FROM order_stage_change AS step LEFT JOIN account ON account.id = step.account_id
   WHERE step.order_id = $1::uuid ORDER BY step.at DESC, step.id DESC`;

type LineRow = Omit<OrderLineState, 'called' | 'place'> & { rack: string | null; cells: Cell[] | null };

/** An order with its lines and stages. Three queries. @throws Refusal 404 */
export async function orderState(reader: SqlReader, id: string): Promise<OrderState> {
  const { rows } = await reader.query<Omit<OrderState, 'lines' | 'stages'>>(orderQuery, [id]);
  const [order] = rows;
  if (order === undefined) throw notFound('This order');
  const lines = await reader.query<LineRow>(linesQuery, [id]);
  const stages = await reader.query<StageState & Record<string, unknown>>(stagesQuery, [id]);
  return {
    ...order,
    lines: lines.rows.map(({ rack, cells, ...line }) => ({
      ...line,
      called: calledBy(line),
      place: rack === null ? '' : placeWords(rack, cells ?? []),
    })),
    stages: stages.rows,
  };
}

/** An order in a list. */
export interface ListedOrder {
  id: string;
  number: number;
  buyer: string;
  stage: OrderStage;
  until: string;
  createdAt: Date;
  /** When and why it came to its stage; `by` null: by the clock. */
  at: Date;
  reason: string;
  by: string | null;
  lots: number;
  pieces: number;
  minor: number | null;
  unpriced: number;
  currency: string | null;
  carrier: string | null;
}

const listQuery = `
  SELECT it.id, it.number, it.buyer, it.stage, it.hold_until::text AS until, it.created_at AS "createdAt", it.currency,
         last.at, last.reason, account.name AS by, sum(line.pieces)::int AS pieces, count(line.id)::int AS lots,
         (sum(line.pieces * line.price_minor) + coalesce(it.free_line_minor, 0))::float8 AS minor,
         coalesce(sum(line.pieces) FILTER (WHERE line.price_minor IS NULL), 0)::int AS unpriced, shipment.carrier
    FROM sales_order AS it JOIN order_line AS line ON line.order_id = it.id
    LEFT JOIN shipment ON shipment.order_id = it.id
    LEFT JOIN LATERAL (SELECT at, reason, account_id FROM order_stage_change WHERE order_id = it.id ORDER BY at DESC, id DESC LIMIT 1) AS last ON true
    LEFT JOIN account ON account.id = last.account_id
   WHERE it.site_id = $1::uuid AND (it.stage::text = ANY($2::text[]))
   GROUP BY it.id, last.at, last.reason, account.name, shipment.carrier
   ORDER BY it.number DESC LIMIT $3 OFFSET $4`;

/** Orders of a site in some stages, the newest first. One query. */
export async function listOrders(
  reader: SqlReader,
  siteId: string,
  stages: readonly OrderStage[],
  { skip, take }: { skip: number; take: number },
): Promise<ListedOrder[]> {
  const { rows } = await reader.query<ListedOrder & Record<string, unknown>>(listQuery, [
    siteId,
    [...stages],
    take,
    skip,
  ]);
  return rows;
}

/** Orders of a site that lots can still be added to, as choices. One query. */
export async function openOrderChoices(
  reader: SqlReader,
  siteId: string,
): Promise<{ value: string; text: string }[]> {
  const { rows } = await reader.query<{ id: string; number: number; buyer: string }>(
    `SELECT id, number, buyer FROM sales_order WHERE site_id = $1::uuid AND stage IN ('asked', 'held') ORDER BY number DESC LIMIT 100`,
    [siteId],
  );
  return rows.map(({ id, number, buyer }) => ({ value: id, text: `Order ${number}, ${buyer}` }));
}
