import type { Cell } from '../../farm/racks/slots.rules.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { Page } from '../../platform/door/pages.ts';
import { isOpen, type StepwisePlan, type StepwisePlanStep } from '../../platform/plans/plans.rules.ts';
import { placeWords } from '../places/slots.ts';

/** A step of an acclimation. */
export interface AcclimationStep extends StepwisePlanStep {
  /** Local day, "2026-11-24". */
  dueOn: string;
  dli: number;
  par: number | null;
  lotId: string | null;
  code: string | null;
  slotIds: string[];
  /** "Rack S2, A3"; "" where no free place was found, or lamps are turned. */
  place: string;
  /** The system of its slots, of its lamps, or else of the lot. */
  systemId: string | null;
  lampId: string | null;
  lamp: string | null;
  percent: number | null;
  doneBy: string | null;
  note: string;
}

/** An acclimation with its lots and steps; steps by position, and in the order in which they were made. */
export interface Acclimation extends StepwisePlan {
  siteId: string;
  timeZone: string;
  name: string;
  purpose: 'brighter' | 'dimmer' | 'recovery';
  received: 'unknown' | 'stated' | 'measured' | 'here';
  fromDli: number;
  targetDli: number;
  maxStepRatio: number;
  dwellDays: number;
  reason: string;
  startsOn: string;
  by: string | null;
  pausedAt: Date | null;
  pauseReason: string | null;
  endReason: string | null;
  lots: { id: string; code: string; kind: string; pieces: number }[];
  steps: AcclimationStep[];
}

/** Which acclimations: of a site, one, those of systems; running ones only, those that run or ended since, or all. */
export interface AcclimationFilter {
  siteId?: string;
  id?: string;
  lotId?: string;
  systemIds?: readonly string[];
  running?: boolean;
  endedSince?: Date;
  /** So many of them, behind a place in their order; all where it is not said. */
  page?: Page<AcclimationPlace>;
}

/** Where an acclimation stands among all: whether it has ended, when it was made, its id. */
export type AcclimationPlace = readonly [ended: boolean, createdAt: string, id: string];

export const placeOfAcclimation = ({ endedAt, createdAt, id }: Acclimation): AcclimationPlace => [
  endedAt !== null,
  createdAt.toISOString(),
  id,
];

/** SQL: running ones first, the newest before. */
const placeInSql =
  'acclimation.ended_at IS NOT NULL, -extract(epoch FROM acclimation.created_at), acclimation.id';

// Asked first, each way to a system by itself: a water mostly has no acclimation, and one join of all ways takes long to plan.
const idsQuery = `
  SELECT acclimation.id FROM acclimation
   WHERE ($1::uuid IS NULL OR acclimation.site_id = $1::uuid)
     AND ($2::uuid IS NULL OR acclimation.id = $2::uuid)
     AND ($3::uuid IS NULL OR EXISTS (SELECT 1 FROM acclimation_lot WHERE acclimation_id = acclimation.id AND lot_id = $3::uuid))
     AND ($4::uuid[] IS NULL OR EXISTS (
       SELECT 1 FROM acclimation_step AS step
        WHERE step.acclimation_id = acclimation.id
          AND (EXISTS (SELECT 1 FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
                        WHERE slot.id = ANY(step.slot_ids) AND tank.system_id = ANY($4::uuid[]))
            OR EXISTS (SELECT 1 FROM lamp JOIN tank ON tank.id = lamp.tank_id
                        WHERE lamp.id = step.lamp_id AND tank.system_id = ANY($4::uuid[]))
            OR EXISTS (SELECT 1 FROM lot_place WHERE lot_id = step.lot_id AND system_id = ANY($4::uuid[])))))
     AND (NOT $5::boolean OR acclimation.ended_at IS NULL)
     AND ($6::timestamptz IS NULL OR acclimation.ended_at IS NULL OR acclimation.ended_at > $6::timestamptz)
     AND ($7::boolean IS NULL OR (${placeInSql}) > ($7::boolean, -extract(epoch FROM $8::timestamptz), $9::uuid))
   ORDER BY ${placeInSql} LIMIT $10::int`;

const headQuery = `
  SELECT acclimation.id, acclimation.site_id AS "siteId", site.time_zone AS "timeZone", acclimation.name, purpose, received,
         from_dli AS "fromDli", target_dli AS "targetDli", max_step_ratio AS "maxStepRatio", dwell_days AS "dwellDays",
         reason, starts_on::text AS "startsOn", account.name AS by, acclimation.created_at AS "createdAt",
         paused_at AS "pausedAt", pause_reason AS "pauseReason", ended_at AS "endedAt", end_reason AS "endReason",
         acclimation.version,
         (SELECT coalesce(json_agg(json_build_object('id', lot.id, 'code', lot.code, 'kind', kind.name, 'pieces', lot.pieces) ORDER BY lot.code), '[]')
            FROM acclimation_lot JOIN lot ON lot.id = acclimation_lot.lot_id JOIN kind ON kind.id = lot.kind_id
           WHERE acclimation_lot.acclimation_id = acclimation.id) AS lots
    FROM acclimation
    JOIN site ON site.id = acclimation.site_id
    LEFT JOIN account ON account.id = acclimation.account_id
   WHERE acclimation.id = ANY($1::uuid[])
   ORDER BY ${placeInSql}`;

const stepQuery = `
  SELECT step.id, step.acclimation_id AS "acclimationId", step.position, step.due_on::text AS "dueOn", step.dli, step.par,
         step.lot_id AS "lotId", lot.code, array_to_string(step.slot_ids, ' ') AS "slotIds", place.slots, place.rack_name AS "rackName",
         coalesce(place.system_id, tank.system_id,
           (SELECT system_id FROM lot_place WHERE lot_id = step.lot_id LIMIT 1)) AS "systemId",
         step.lamp_id AS "lampId", lamp.name AS lamp, step.percent, step.done_at AS "doneAt", account.name AS "doneBy",
         step.left_out_at AS "leftOutAt", step.note
    FROM acclimation_step AS step
    LEFT JOIN lot ON lot.id = step.lot_id
    LEFT JOIN lamp ON lamp.id = step.lamp_id
    LEFT JOIN tank ON tank.id = lamp.tank_id
    LEFT JOIN account ON account.id = step.done_by_id
    LEFT JOIN LATERAL (
      SELECT json_agg(json_build_object('row', slot.row, 'column', slot."column") ORDER BY slot.row, slot."column") AS slots, min(rack.name) AS rack_name,
             (min(under.system_id::text))::uuid AS system_id
        FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank AS under ON under.id = rack.tank_id
       WHERE slot.id = ANY(step.slot_ids)) AS place ON true
   WHERE step.acclimation_id = ANY($1::uuid[])
   ORDER BY step.position, step.id`;

interface StepRow extends Omit<AcclimationStep, 'slotIds' | 'place'> {
  acclimationId: string;
  slotIds: string;
  slots: Cell[] | null;
  rackName: string | null;
}

/** Acclimations, running ones first, the newest before. Three queries at most. */
export async function readAcclimations(reader: SqlReader, filter: AcclimationFilter): Promise<Acclimation[]> {
  const { siteId = null, id = null, lotId = null, systemIds = null } = filter;
  const { running = false, endedSince = null, page } = filter;
  const after = page?.after ?? [null, null, null];
  const values = [siteId, id, lotId, systemIds, running, endedSince, ...after, page?.limit ?? null];
  const ids = (await reader.query<{ id: string }>(idsQuery, values)).rows.map((one) => one.id);
  if (ids.length === 0) return [];
  const heads = (await reader.query<Omit<Acclimation, 'steps'>>(headQuery, [ids])).rows;
  const steps = Map.groupBy(
    (await reader.query<StepRow>(stepQuery, [ids])).rows,
    (step) => step.acclimationId,
  );
  return heads.map((head) => ({ ...head, steps: (steps.get(head.id) ?? []).map(stepOf) }));
}

function stepOf({ acclimationId: _, slotIds, slots, rackName, ...step }: StepRow): AcclimationStep {
  return {
    ...step,
    slotIds: slotIds.split(' ').filter((id) => id !== ''),
    place: rackName === null ? '' : placeWords(rackName, slots ?? []),
  };
}

/** The steps that come next: of each lot its first open one, or the first open turn of the lamps. */
export function nextSteps({ steps }: Pick<Acclimation, 'steps'>): AcclimationStep[] {
  const open = steps.filter(isOpen);
  return [...Map.groupBy(open, (step) => step.lotId ?? step.lampId).values()].flatMap(
    (list) => list[0] ?? [],
  );
}

/** The last step of a lot (or of the lamps) that was done; null before the first. */
export function lastDoneStep(
  { steps }: Pick<Acclimation, 'steps'>,
  lotId: string | null,
): AcclimationStep | null {
  return steps.findLast((step) => step.doneAt !== null && (lotId === null || step.lotId === lotId)) ?? null;
}
