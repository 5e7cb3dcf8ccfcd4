import type pg from 'pg';
import { lotSeverities } from '../../alerts/lot-alerts.ts';
import type { Cell } from '../../farm/racks/slots.rules.ts';
import type { Comparison, ConditionState, GrowthForm, Severity } from '../../generated/prisma/enums.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import type { Tx } from '../../platform/service.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { standingIn } from '../../stock/places/standing.ts';
import { doingsOf } from '../../watch/actions/actions.rules.ts';

/** A rack of a round, in walking order. Racks without lots are left out. */
export interface RoundRack {
  id: string;
  name: string;
  tank: string;
  systemId: string;
  system: string;
  lots: number;
  rows: number;
  columns: number;
  /** Lots on it by the severity of the most urgent open alert about each. */
  now: number;
  today: number;
}

const wayQuery = `
  SELECT tank.id, tank.system_id AS "systemId"
    FROM round_plan_tank AS walked JOIN tank ON tank.id = walked.tank_id
   WHERE walked.plan_id = $1::uuid ORDER BY walked.position`;

/** The racks a plan leads past, in walking order. Three small queries. */
export async function roundRacks(reader: SqlReader, planId: string, now: Date): Promise<RoundRack[]> {
  const way = (await reader.query<{ id: string; systemId: string }>(wayQuery, [planId])).rows;
  const systemIds = [...new Set(way.map(({ systemId }) => systemId))];
  const [standing, severities] = await Promise.all([
    standingIn(reader, systemIds),
    lotSeverities(reader, now),
  ]);
  return way.flatMap(({ id: tankId, systemId }) =>
    (standing.get(systemId) ?? [])
      .filter((rack) => rack.tankId === tankId && rack.lots.length > 0)
      .map(({ id, name, tankName, systemName, rows, columns, lots }) => {
        const wrong = (severity: Severity) =>
          lots.filter((lot) => severities.get(lot.id) === severity).length;
        const itself = { id, name, tank: tankName, systemId, system: systemName, rows, columns };
        return { ...itself, lots: lots.length, now: wrong('now'), today: wrong('today') };
      }),
  );
}

/** A rack as a finished round keeps it. */
export interface PassedRack {
  id: string;
  name: string;
  tank: string;
}

/** The racks a plan leads past now, as a round that ends keeps them. */
export async function passedRacks(tx: Tx, planId: string, now: Date): Promise<PassedRack[]> {
  const racks = await roundRacks(readerOf(tx), planId, now);
  return racks.map(({ id, name, tank }) => ({ id, name, tank }));
}

/** A look as it was noted. */
export interface NotedLook {
  id: string;
  state: ConditionState;
  grade: number | null;
  at: Date;
}

export interface RackPhoto {
  id: string;
  takenAt: Date;
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
  compared: Comparison | null;
  /** The last look from before the round began. */
  before: NotedLook | null;
  growthForm: GrowthForm | null;
  /** The newest photo, and the last one from before it was unwell, else the first, where that is another. */
  photo: RackPhoto | null;
  photoThen: RackPhoto | null;
  /** An open alert asks for a photo of it. */
  wantsPhoto: boolean;
  /** When it was last cut, or cut from, within the days of healing. */
  cutAt: Date | null;
  severity: Severity | null;
  alert: string | null;
}

/** A cut piece is looked at as healing for this many days: a month of visible growth (common practice). */
export const HEALING_DAYS = 28;

// Its parts are fenced in (MATERIALIZED, OFFSET 0), so that the server plans a few tables at a time (planning all of them took
// as long as reading them), and are asked for by a list of lots, which it goes to by their keys instead of reading the farm's.
const lotQuery = `
  WITH held AS MATERIALIZED (
    SELECT placement.lot_id, slot.rack_id, json_agg(json_build_object('row', slot.row, 'column', slot."column") ORDER BY slot.row, slot."column") AS cells,
           min(slot.row * 100 + slot."column") AS first
      FROM slot JOIN placement_slot AS taken ON taken.slot_id = slot.id AND taken.to_at IS NULL
      JOIN placement ON placement.id = taken.placement_id AND placement.to_at IS NULL
     WHERE slot.rack_id = ANY($1) GROUP BY placement.lot_id, slot.rack_id),
  alerting AS MATERIALIZED (
    SELECT subject_id, (array_agg(severity ORDER BY severity, opened_at))[1] AS severity,
           (array_agg(title ORDER BY severity, opened_at))[1] AS title, array_agg(rule) AS rules FROM open_alert
     WHERE subject_type = 'lot' AND subject_id = ANY(ARRAY(SELECT lot_id FROM held)) AND (put_off_until IS NULL OR put_off_until <= $2)
     GROUP BY subject_id),
  lot AS MATERIALIZED (SELECT id, code, own_code, kind_id, pieces FROM lot WHERE id = ANY(ARRAY(SELECT lot_id FROM held))),
  face AS MATERIALIZED (SELECT * FROM lot_face WHERE lot_id = ANY(ARRAY(SELECT lot_id FROM held)))
  SELECT lot.id, held.rack_id AS "rackId", lot.code, lot.own_code AS "ownCode", kind.name AS kind, lot.pieces, held.cells,
         last.state, last.grade, last.compared, last.at AS "seenAt", cutting.at AS "cutAt",
         alerting.severity, alerting.title AS alert, coalesce(alerting.rules, '{}') AS rules,
         before.id AS "beforeId", before.state AS "beforeState", before.grade AS "beforeGrade", before.at AS "beforeAt",
         face.growth_form AS "growthForm", photos.id AS "photoId", photos.at AS "photoAt",
         photos."formerId", photos."formerAt"
    FROM held
    JOIN lot ON lot.id = held.lot_id
    JOIN kind ON kind.id = lot.kind_id
    JOIN face ON face.lot_id = lot.id
    LEFT JOIN LATERAL (SELECT state, grade, compared, at FROM condition
                        WHERE lot_id = lot.id AND voided_at IS NULL AND at <= $2
                        ORDER BY at DESC, id DESC LIMIT 1) AS last ON true
    LEFT JOIN LATERAL (SELECT id, state, grade, at FROM condition
                        WHERE lot_id = lot.id AND voided_at IS NULL AND at < $4
                        ORDER BY at DESC, id DESC LIMIT 1) AS before ON true
    LEFT JOIN LATERAL (
      SELECT newest.id, newest.taken_at AS at, former.id AS "formerId", former.taken_at AS "formerAt"
        FROM photo AS newest
       CROSS JOIN LATERAL (SELECT min(at) AS at FROM condition
                            WHERE lot_id = lot.id AND voided_at IS NULL AND state <> 'well'
                              AND at > coalesce((SELECT max(at) FROM condition WHERE lot_id = lot.id AND voided_at IS NULL AND state = 'well'), '-infinity')) AS unwell
        LEFT JOIN LATERAL (SELECT id, taken_at FROM photo WHERE lot_id = lot.id AND voided_at IS NULL AND id <> newest.id
                            ORDER BY taken_at < unwell.at DESC NULLS LAST, CASE WHEN taken_at < unwell.at THEN taken_at END DESC NULLS LAST, taken_at LIMIT 1) AS former ON true
       WHERE newest.id = face.photo_id OFFSET 0) AS photos ON true
    LEFT JOIN LATERAL (SELECT max(at) AS at FROM cut
                        WHERE (into_lot_id = lot.id OR from_lot_id = lot.id) AND at > $3 AND at <= $2) AS cutting ON true
    LEFT JOIN alerting ON alerting.subject_id = lot.id
   ORDER BY held.rack_id, held.first, lot.code`;

interface LotRecord {
  id: string;
  rackId: string;
  code: string;
  ownCode: string;
  kind: string;
  pieces: number;
  cells: Cell[];
  state: ConditionState | null;
  grade: number | null;
  compared: Comparison | null;
  seenAt: Date | null;
  cutAt: Date | null;
  severity: Severity | null;
  alert: string | null;
  rules: string[];
  growthForm: GrowthForm | null;
  beforeId: string | null;
  beforeState: ConditionState | null;
  beforeGrade: number | null;
  beforeAt: Date | null;
  photoId: string | null;
  photoAt: Date | null;
  formerId: string | null;
  formerAt: Date | null;
}

const photoOf = (id: string | null, takenAt: Date | null): RackPhoto | null =>
  id === null || takenAt === null ? null : { id, takenAt };

const wantsPhoto = (rule: string): boolean =>
  doingsOf({ rule, facet: '', subject: { type: 'lot' }, changes: null, advice: [] }).includes('photo');

function rackLot(row: LotRecord): RackLot {
  const {
    rules,
    beforeId,
    beforeState,
    beforeGrade,
    beforeAt,
    photoId,
    photoAt,
    formerId,
    formerAt,
    ...lot
  } = row;
  const before =
    beforeId === null || beforeState === null || beforeAt === null
      ? null
      : { id: beforeId, state: beforeState, grade: beforeGrade, at: beforeAt };
  return {
    ...lot,
    before,
    photo: photoOf(photoId, photoAt),
    photoThen: photoOf(formerId, formerAt),
    wantsPhoto: rules.some(wantsPhoto),
  };
}

/**
 * The lots of these racks as a round that began then finds them, each rack's in the order of its slots. One query,
 * however many racks.
 */
export async function rackLots(
  pool: pg.Pool,
  rackIds: readonly string[],
  round: { startedAt: Date },
  now: Date,
): Promise<RackLot[]> {
  const since = daysBefore(now, HEALING_DAYS);
  const { rows } = await pool.query<LotRecord>(lotQuery, [rackIds, now, since, round.startedAt]);
  return rows.map(rackLot);
}
