import type pg from 'pg';
import type { Cell } from '../../farm/racks/slots.rules.ts';
import type {
  Comparison,
  ConditionState,
  LedgerReason,
  LossCause,
  Severity,
} from '../../generated/prisma/enums.ts';

interface EventBase {
  id: string;
  at: Date;
  who: string | null;
  note: string;
}

interface LedgerDetail {
  change: number;
  /** How many there were afterwards. */
  left: number;
  reason: LedgerReason;
  /** Of a loss: why; null where nobody was asked. */
  cause: LossCause | null;
  voidReason: string | null;
  /** Whether it belongs to something else, with which it is taken back: a sale, a cut, a look, a stocktake, a delivery. */
  isPart: boolean;
  /** Of a cut: the lot it was made from, the lot it was made into, and how. */
  from: string | null;
  into: string | null;
  method: string | null;
}

/** Something that happened to a lot, as its tables hold it. */
export type LotEvent = EventBase &
  (
    | { type: 'ledger'; detail: LedgerDetail }
    | { type: 'placed'; detail: { rack: string; rackId: string; cells: Cell[] } }
    | { type: 'left'; detail: { rack: string; cells: Cell[] } }
    | {
        type: 'condition';
        detail: {
          state: ConditionState;
          grade: number | null;
          compared: Comparison | null;
          voidReason: string | null;
        };
      }
    | { type: 'photo'; detail: { voidReason: string | null } }
    | { type: 'identified'; detail: { name: string; qualifier: string; by: string; on: string } }
    | { type: 'cut_from'; detail: { into: string; pieces: number; method: string } }
    | { type: 'tag'; detail: { pieces: number; tagId: string; withdrawn: string | null } }
    | { type: 'alert'; detail: { title: string; severity: Severity; alertId: string; cleared: Date | null } }
  );

/**
 * Events of a lot that other areas add: SQL that selects, for the lot `$1`, id, at, the event's type, the account, a note and
 * the event's detail as JSON, like the parts below.
 */
export type LotEventSource = string;

const timelineQuery = (others: readonly LotEventSource[]) => `
  WITH placed AS (
    SELECT placement.id, placement.from_at, placement.to_at, placement.reason, placement.account_id,
           json_build_object('rack', rack.name, 'rackId', rack.id,
             'cells', json_agg(json_build_object('row', slot.row, 'column', slot."column") ORDER BY slot.row, slot."column")) AS place
      FROM placement
      JOIN placement_slot ON placement_slot.placement_id = placement.id
      JOIN slot ON slot.id = placement_slot.slot_id JOIN rack ON rack.id = slot.rack_id
     WHERE placement.lot_id = $1 GROUP BY placement.id, rack.id),
  happened AS (
    SELECT line.id, line.at, 'ledger' AS type, line.account_id, concat_ws(' ', nullif(line.note, ''), nullif(cut.note, '')) AS note,
           json_build_object('change', line.change, 'reason', line.reason, 'cause', line.cause, 'from', mother.code, 'into', made.code, 'method', cut.method,
             'left', coalesce(sum(line.change) FILTER (WHERE line.voided_at IS NULL) OVER (ORDER BY line.at, line.id), 0),
             'voidReason', line.void_reason,
             'isPart', line.cut_id IS NOT NULL OR EXISTS (SELECT FROM sale WHERE ledger_entry_id = line.id)
               OR EXISTS (SELECT FROM healing_look WHERE ledger_entry_id = line.id AND voided_at IS NULL)
               OR EXISTS (SELECT FROM stocktake_line AS counted JOIN stocktake ON stocktake.id = counted.stocktake_id
                           WHERE counted.ledger_entry_id = line.id AND stocktake.closed_at IS NULL)
               OR line.reason = 'received' AND EXISTS (SELECT FROM delivery_line WHERE lot_id = line.lot_id)) AS detail
      FROM ledger_entry AS line
      LEFT JOIN cut ON cut.id = line.cut_id
      LEFT JOIN lot AS mother ON mother.id = cut.from_lot_id LEFT JOIN lot AS made ON made.id = cut.into_lot_id
     WHERE line.lot_id = $1
    UNION ALL
    SELECT id, from_at, 'placed', account_id, reason, place FROM placed
    UNION ALL
    SELECT id, to_at, 'left', NULL, '', place FROM placed
     WHERE to_at IS NOT NULL AND NOT EXISTS (SELECT 1 FROM placed AS next WHERE next.from_at = placed.to_at)
    UNION ALL
    SELECT id, at, 'condition', account_id, note,
           json_build_object('state', state, 'grade', grade, 'compared', compared, 'voidReason', void_reason)
      FROM condition WHERE lot_id = $1
    UNION ALL
    SELECT id, taken_at, 'photo', account_id, note, json_build_object('voidReason', void_reason)
      FROM photo WHERE lot_id = $1
    UNION ALL
    SELECT id, created_at, 'identified', account_id, identification_remarks,
           json_build_object('name', scientific_name, 'qualifier', identification_qualifier, 'by', identified_by, 'on', date_identified::text)
      FROM identification WHERE lot_id = $1
    UNION ALL
    SELECT cut.id, cut.at, 'cut_from', cut.account_id, cut.note,
           json_build_object('into', made.code, 'pieces', cut.pieces, 'method', cut.method)
      FROM cut JOIN lot AS made ON made.id = cut.into_lot_id WHERE cut.from_lot_id = $1
    UNION ALL
    SELECT id, opened_at, 'alert', NULL, coalesce(cleared_reason, ''),
           json_build_object('title', title, 'severity', severity, 'alertId', id, 'cleared', cleared_at)
      FROM alert WHERE subject_type = 'lot' AND subject_id = $1
    ${others.map((other) => `UNION ALL ${other}`).join('\n')})
  SELECT happened.id, happened.at, happened.type, happened.note, happened.detail, account.name AS who,
         count(*) OVER ()::int AS total
    FROM happened LEFT JOIN account ON account.id = happened.account_id
   ORDER BY happened.at DESC, happened.id DESC LIMIT $2 OFFSET $3`;

/** Everything that happened to a lot, newest first, a page at a time. One query. */
export async function lotTimeline(
  pool: pg.Pool,
  lotId: string,
  others: readonly LotEventSource[],
  { page = 1, perPage = 100 }: { page?: number; perPage?: number } = {},
): Promise<{ events: LotEvent[]; total: number }> {
  const { rows } = await pool.query<LotEvent & { total: number }>(timelineQuery(others), [
    lotId,
    perPage,
    (page - 1) * perPage,
  ]);
  return { events: rows.map(({ total: _, ...event }) => event), total: rows[0]?.total ?? 0 };
}
