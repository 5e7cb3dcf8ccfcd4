import type pg from 'pg';
import type { Cell } from '../../farm/racks/slots.rules.ts';
import type { ConditionState } from '../../generated/prisma/enums.ts';
import { type Price, priceOf } from '../../platform/words/money.ts';
import { careOf } from '../kinds/care.ts';
import { placeWords } from '../places/slots.ts';
import { type NotReadyReason, notReadyReasons, type SaleFacts } from './readiness.rules.ts';

/** A lot with its pieces and every reason against selling them. */
export interface Readiness {
  id: string;
  code: string;
  ownCode: string;
  tradeName: string;
  price: Price | null;
  kind: string;
  kindId: string;
  pieces: number;
  held: number;
  sizeMm: number | null;
  /** What the farm wrote of it: no rule reads it, so whoever sells has to. */
  note: string;
  place: string;
  systemName: string;
  reasons: NotReadyReason[];
}

interface Row extends Omit<SaleFacts, 'look'> {
  state: ConditionState | null;
  grade: number | null;
  lookedAt: Date | null;
  id: string;
  code: string;
  ownCode: string;
  tradeName: string;
  priceMinor: number | null;
  currency: string | null;
  kind: string;
  kindId: string;
  note: string;
  rack: string | null;
  cells: Cell[] | null;
  systemName: string | null;
}

/** Of the lots of a site, or ($2) of some of them: then only their rows are read. */
const queryOf = (some: boolean) => `
  WITH placed AS (
    SELECT lot_id, min(rack_name) AS rack, json_agg(json_build_object('row', row, 'column', "column") ORDER BY row, "column") AS cells,
           min(system_name) AS system_name, bool_or(tank.quarantine) AS quarantine, min(tank.system_id::text)::uuid AS system_id,
           min(CASE WHEN tank.own_water <> '' THEN tank.id::text END)::uuid AS water_tank_id
      FROM lot_place JOIN tank ON tank.id = lot_place.tank_id ${some ? 'WHERE lot_id = ANY($2::uuid[])' : ''} GROUP BY lot_id),
  held AS (SELECT lot_id, sum(pieces)::int AS pieces FROM hold WHERE released_at IS NULL ${some ? 'AND lot_id = ANY($2::uuid[])' : ''} GROUP BY lot_id),
  with_alerts AS (
    SELECT lot_id, array_agg(title ORDER BY severity, opened_at) AS titles FROM lot_alert GROUP BY lot_id)
  SELECT lot.id, lot.code, lot.own_code AS "ownCode", lot.trade_name AS "tradeName", lot.note, lot.price_minor AS "priceMinor", site.currency, kind.name AS kind, lot.kind_id AS "kindId", lot.pieces, lot.is_mother AS "isMother", lot.size_mm AS "sizeMm",
         lot.arrived_at AS "arrivedAt", cut.at AS "cutAt", lot.quarantine_until AS "quarantineUntil",
         coalesce(held.pieces, 0) AS held,
         coalesce(with_alerts.titles, '{}') || ARRAY(
           SELECT title FROM water_trouble AS trouble WHERE trouble.system_id = placed.system_id AND placed.water_tank_id IS NULL
            ORDER BY severity, opened_at, id) AS alerts,
         EXISTS (SELECT FROM note_refused WHERE note_refused.lot_id = lot.id AND note_refused.open) AS "noteWaits",
         looked.state, looked.grade, looked.at AS "lookedAt",
         placed.rack, placed.cells, placed.system_name AS "systemName", coalesce(placed.quarantine, false) AS "inQuarantineTank",
         ARRAY(SELECT pest FROM pest_watch WHERE pest_watch.system_id = placed.system_id
                  AND pest_watch.tank_id IS NOT DISTINCT FROM placed.water_tank_id AND ended_at IS NULL ORDER BY opened_at, id) AS pests,
         EXISTS (SELECT 1 FROM acclimation_lot WHERE lot_id = lot.id AND ended_at IS NULL) AS acclimating
    FROM lot
    JOIN site ON site.id = lot.site_id
    JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN cut ON cut.into_lot_id = lot.id
    LEFT JOIN placed ON placed.lot_id = lot.id
    LEFT JOIN held ON held.lot_id = lot.id
    LEFT JOIN with_alerts ON with_alerts.lot_id = lot.id
    LEFT JOIN lot_look AS looked ON looked.lot_id = lot.id
   WHERE lot.site_id = $1 AND lot.pieces > 0 ${some ? 'AND lot.id = ANY($2::uuid[])' : ''}
   ORDER BY kind.name, lot.code`;
const ofAll = queryOf(false);
const ofSome = queryOf(true);

/**
 * Whether pieces of a site's lots (or of some of them) can be sold now, with every reason why not. Three queries, however
 * many lots.
 */
export async function lotReadiness(
  pool: pg.Pool,
  ask: { siteId: string; timeZone: string; lotIds?: readonly string[] },
  now: Date,
): Promise<Readiness[]> {
  const { rows } = await (ask.lotIds === undefined
    ? pool.query<Row>(ofAll, [ask.siteId])
    : pool.query<Row>(ofSome, [ask.siteId, ask.lotIds]));
  const care = await careOf(pool, rows);
  return rows.map(({ rack, cells, systemName, state, grade, lookedAt, ...row }) => {
    const look = state === null || lookedAt === null ? null : { state, grade, at: lookedAt };
    const facts = { ...row, look };
    const { id, code, ownCode, tradeName, kind, kindId, pieces, held, sizeMm, note } = row;
    return {
      ...{ id, code, ownCode, tradeName, kind, kindId, pieces, held, sizeMm, note },
      price: priceOf(row.priceMinor, row.currency),
      place: rack === null || cells === null ? '' : placeWords(rack, cells),
      systemName: systemName ?? '',
      reasons: notReadyReasons(facts, care.get(id) ?? {}, now, ask.timeZone),
    };
  });
}

/** Nothing speaks against selling it. */
export const isReady = ({ reasons }: Pick<Readiness, 'reasons'>): boolean => reasons.length === 0;

const codesBehind = `
  SELECT id FROM lot WHERE code > $2 AND site_id = $1 AND pieces > 0 ORDER BY code LIMIT $3`;

/** The same for at most `limit` lots behind a code, in the order of their codes. Four queries. */
export async function lotReadinessBehind(
  pool: pg.Pool,
  { siteId, timeZone, code, limit }: { siteId: string; timeZone: string; code: string; limit: number },
  now: Date,
): Promise<Readiness[]> {
  const { rows } = await pool.query<{ id: string }>(codesBehind, [siteId, code, limit]);
  const lots = await lotReadiness(pool, { siteId, timeZone, lotIds: rows.map(({ id }) => id) }, now);
  const byId = new Map(lots.map((lot) => [lot.id, lot]));
  return rows.flatMap(({ id }) => byId.get(id) ?? []);
}
