import type pg from 'pg';
import type { Cell } from '../../farm/racks/slots.rules.ts';
import type { ConditionState, Severity } from '../../generated/prisma/enums.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import type { Tx } from '../../platform/service.ts';
import { daysBefore } from '../../science/numeric/time.ts';

/** A rack of a round, in walking order. Racks without lots are left out. */
export interface RoundRack {
  id: string;
  name: string;
  tank: string;
  systemId: string;
  system: string;
  lots: number;
}

const rackQuery = `
  SELECT rack.id, rack.name, tank.name AS tank, system.id AS "systemId", system.name AS system,
         count(DISTINCT placement.lot_id)::int AS lots
    FROM round_plan_tank AS walked
    JOIN tank ON tank.id = walked.tank_id
    JOIN system ON system.id = tank.system_id
    JOIN rack ON rack.tank_id = tank.id
    JOIN slot ON slot.rack_id = rack.id
    JOIN placement_slot AS held ON held.slot_id = slot.id AND held.to_at IS NULL
    JOIN placement ON placement.id = held.placement_id
   WHERE walked.plan_id = $1::uuid
   GROUP BY rack.id, tank.id, system.id, walked.position
   ORDER BY walked.position, rack.position, rack.name, rack.id`;

/** The racks a plan leads past, in walking order. One query. */
export async function roundRacks(reader: SqlReader, planId: string): Promise<RoundRack[]> {
  return (await reader.query<RoundRack>(rackQuery, [planId])).rows;
}

/** A rack as a finished round keeps it. */
export interface PassedRack {
  id: string;
  name: string;
  tank: string;
}

/** The racks a plan leads past now, as a round that ends keeps them. */
export async function passedRacks(tx: Tx, planId: string): Promise<PassedRack[]> {
  const racks = await roundRacks(readerOf(tx), planId);
  return racks.map(({ id, name, tank }) => ({ id, name, tank }));
}

/** A lot in its place, with what the walker should know of it. */
export interface RackLot {
  id: string;
  rackId: string;
  code: string;
  ownCode: string;
  kind: string;
  pieces: number;
  cells: Cell[];
  /** How it looked when last noted; nulls where never. */
  state: ConditionState | null;
  grade: number | null;
  seenAt: Date | null;
  /** When it was last cut, or cut from, within the days of healing. */
  cutAt: Date | null;
  severity: Severity | null;
  alert: string | null;
}

/** A cut piece is looked at as healing for this many days: a month of visible growth (common practice). */
export const HEALING_DAYS = 28;

const lotQuery = `
  WITH held AS (
    SELECT lot_id, rack_id, json_agg(json_build_object('row', row, 'column', "column")) AS cells,
           min(row * 100 + "column") AS first
      FROM lot_place WHERE rack_id = ANY($1) GROUP BY lot_id, rack_id),
  alerting AS (
    SELECT DISTINCT ON (subject_id) subject_id, severity, title FROM open_alert
     WHERE subject_type = 'lot' AND (put_off_until IS NULL OR put_off_until <= $2)
     ORDER BY subject_id, severity, opened_at)
  SELECT lot.id, held.rack_id AS "rackId", lot.code, lot.own_code AS "ownCode", kind.name AS kind, lot.pieces, held.cells,
         last.state, last.grade, last.at AS "seenAt", cutting.at AS "cutAt",
         alerting.severity, alerting.title AS alert
    FROM held
    JOIN lot ON lot.id = held.lot_id
    JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN LATERAL (SELECT state, grade, at FROM condition
                        WHERE lot_id = lot.id AND voided_at IS NULL AND at <= $2
                        ORDER BY at DESC, id DESC LIMIT 1) AS last ON true
    LEFT JOIN LATERAL (SELECT max(at) AS at FROM cut
                        WHERE (into_lot_id = lot.id OR from_lot_id = lot.id) AND at > $3 AND at <= $2) AS cutting ON true
    LEFT JOIN alerting ON alerting.subject_id = lot.id
   ORDER BY held.rack_id, held.first, lot.code`;

/** The lots of these racks, each rack's in the order of its slots. One query, however many racks. */
export async function rackLots(pool: pg.Pool, rackIds: readonly string[], now: Date): Promise<RackLot[]> {
  const since = daysBefore(now, HEALING_DAYS);
  return (await pool.query<RackLot>(lotQuery, [rackIds, now, since])).rows;
}
