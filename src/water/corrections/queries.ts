import { z } from 'zod';
import type { Page } from '../../platform/door/pages.ts';
import type { CorrectionRecord, CorrectionStep } from './state.ts';

/** What a correction was worked out with, as it is kept beside it; canonical units. */
export const basisSchema = z.object({
  means: z.string(),
  purity: z.number().nullable(),
  solution: z
    .object({ doseMl: z.number(), volumeL: z.number(), rise: z.number(), name: z.string() })
    .nullable(),
  limewater: z.object({ temperatureDegC: z.number(), evaporationLPerDay: z.number() }).nullable(),
  makeUp: z.number().nullable(),
  fromAt: z.coerce.date(),
  fromU: z.number(),
  relativeU: z.number(),
  drift: z.object({ perDay: z.number(), sd: z.number() }).nullable(),
  /** Its line of tests had broken, so that only those since counted; plans of before were made without asking. */
  broke: z.boolean().default(false),
  /** A fall that was not counted, since a doser may give less than is logged. */
  leftOut: z.number().nullable().default(null),
  usualPerDay: z.number(),
  changes: z.array(z.number()),
  afterU: z.array(z.number()),
});
export type Basis = z.output<typeof basisSchema>;

/** Which corrections: those of some systems, or one; running ones only, or all. */
export interface CorrectionFilter {
  systemIds?: readonly string[];
  id?: string;
  running?: boolean;
  /** So many of them, behind a place in their order; all where it is not said. */
  page?: Page<CorrectionPlace>;
}

/** Where a correction stands among all: when it was made, its id. */
export type CorrectionPlace = readonly [createdAt: string, id: string];

/**
 * Corrections of some systems, or of the system of one, the newest first.
 */
export const correctionsQuery = `
  SELECT correction.id, correction.system_id AS "systemId", system.name AS "systemName", site.time_zone AS "timeZone",
         row_to_json(quantity) AS quantity, correction.substance AS means, correction.basis,
         json_build_object('id', correction.reading_id, 'value', correction.from_value) AS reading,
         correction.target_value AS target, correction.daily_cap AS "dailyCap", correction.cap_source AS "capSource",
         correction.volume_l AS "volumeL", correction.reason, correction.starts_on::text AS "startsOn", account.name AS by,
         correction.created_at AS "createdAt", correction.finished_at AS "finishedAt", correction.stopped_at AS "stoppedAt",
         coalesce(correction.finished_at, correction.stopped_at) AS "endedAt",
         correction.stop_reason AS "stopReason", correction.revises_id AS "revisesId", revision.id AS "revisedById",
         correction.version
    FROM correction
    JOIN system ON system.id = correction.system_id
    JOIN site ON site.id = system.site_id
    JOIN quantity ON quantity.code = correction.quantity_code
    LEFT JOIN account ON account.id = correction.account_id
    LEFT JOIN correction AS revision ON revision.revises_id = correction.id
   WHERE ($1::text[] IS NULL OR correction.system_id = ANY($1::text[]::uuid[]))
     AND ($2::text IS NULL OR correction.system_id = (SELECT system_id FROM correction WHERE id = $2::text::uuid))
     AND (correction.id::text = $2 OR NOT $3::boolean OR (correction.finished_at IS NULL AND correction.stopped_at IS NULL))
     AND ($4::timestamptz IS NULL OR (correction.created_at, correction.id) < ($4::timestamptz, $5::text::uuid))
   ORDER BY correction.created_at DESC, correction.id DESC LIMIT $6::int`;

/** Their steps with what each logged. */
export const stepsQuery = `
  SELECT step.correction_id AS "correctionId", step.id, step.position, step.due_on::text AS "dueOn", step.after_hours AS "afterHours", step.amount, step.unit,
         step.expected_after AS "expectedAfter", step.retest, step.done_at AS "doneAt", account.name AS "doneBy",
         step.left_out_at AS "leftOutAt", step.note, dose.effect, water_change.volume_l AS "changedL",
         (dose.voided_at IS NOT NULL OR water_change.voided_at IS NOT NULL) AS voided
    FROM correction_step AS step
    LEFT JOIN account ON account.id = step.done_by_id
    LEFT JOIN dose ON dose.id = step.dose_id
    LEFT JOIN water_change ON water_change.id = step.water_change_id
   WHERE step.correction_id = ANY($1::text[]::uuid[]) ORDER BY step.position`;

/**
 * Of each quantity of each system, from two days before the first reading on. The newest 500: a probe may write every
 * few minutes, and only the newest decide about a step.
 */
export const readingsQuery = `
  SELECT picked.system_id AS "systemId", picked.quantity_code AS "quantityCode", picked.id, picked.at, picked.value,
         picked.below_detection AS below, picked.above_scale AS above, picked.uncertainty, picked.kit_id AS "kitId", picked.method_id AS "methodId", picked.trust::text
    FROM unnest($1::text[]::uuid[], $2::text[], $3::timestamptz[]) AS wanted(system_id, code, since)
    JOIN LATERAL (SELECT * FROM (
                    SELECT * FROM reading_with_vote WHERE reading_with_vote.system_id = wanted.system_id AND reading_with_vote.quantity_code = wanted.code
                    UNION ALL SELECT * FROM unpacked_with_vote(wanted.system_id, wanted.code, wanted.since, $4)) AS reading
                   WHERE voided_at IS NULL AND slot_id IS NULL AND trust <> 'refuted' AND at >= wanted.since AND at <= $4
                   ORDER BY at DESC, created_at DESC LIMIT 500) AS picked ON true`;

/** The newest trusted reading of each of these quantities, of the last seven days. */
export const waterQuery = `
  SELECT wanted.system_id AS "systemId", wanted.code, picked.value
    FROM (SELECT DISTINCT unnest($1::text[]::uuid[]) AS system_id) AS systems
   CROSS JOIN LATERAL (SELECT systems.system_id, unnest($2::text[]) AS code) AS wanted
    JOIN LATERAL (SELECT value FROM reading_with_vote AS reading WHERE reading.system_id = wanted.system_id AND reading.quantity_code = wanted.code
                     AND voided_at IS NULL AND slot_id IS NULL AND trust NOT IN ('refuted', 'unconfirmed') AND at <= $3 AND at > $3::timestamptz - interval '7 days'
                   ORDER BY at DESC LIMIT 1) AS picked ON true`;

/** The band of one quantity that somebody chose, by system and code. */
export const chosenBandQuery = `
  SELECT band_low AS low, band_high AS high FROM system_quantity
   WHERE system_id = $1::text::uuid AND quantity_code = $2 AND NOT starting`;

/** What was logged besides the steps of corrections: doses of known effect, water changes with their make-up water. */
export const loggedQuery = `
  SELECT dose.system_id AS "systemId", dose.quantity_code AS "quantityCode", dose.at, dose.effect AS rise, NULL::float8 AS "volumeL",
         NULL::float8 AS "makeUp", dose.amount, dose.unit, dose.substance
    FROM dose LEFT JOIN correction_step AS step ON step.dose_id = dose.id
   WHERE dose.system_id = ANY($1::text[]::uuid[]) AND dose.at > $2 AND dose.at <= $3 AND dose.voided_at IS NULL
     AND dose.effect IS NOT NULL AND step.id IS NULL
  UNION ALL
  SELECT change.system_id, fresh.code, change.at, NULL, change.volume_l, fresh.value, change.volume_l, 'L', 'water change'
    FROM water_change AS change LEFT JOIN correction_step AS step ON step.water_change_id = change.id
    CROSS JOIN LATERAL (
      SELECT quantity_code AS code, make_up AS value FROM system_quantity AS target
       WHERE target.system_id = change.system_id AND target.make_up IS NOT NULL AND NOT coalesce(jsonb_exists(change.make_up, quantity_code), false)
      UNION ALL SELECT key, value::float8 FROM jsonb_each_text(change.make_up)) AS fresh
   WHERE change.system_id = ANY($1::text[]::uuid[]) AND change.at > $2 AND change.at <= $3 AND change.voided_at IS NULL AND step.id IS NULL`;

/** Kits that the watch names or suspects of reading wrong. */
export const suspectKitsQuery = `SELECT subject_id AS id FROM open_alert WHERE rule = 'kit-biased'`;

/** One row of {@link stepsQuery}. */
export interface StepRow extends Omit<CorrectionStep, 'change' | 'expectedU'> {
  correctionId: string;
  effect: number | null;
  changedL: number | null;
}

/** One row of {@link loggedQuery}. */
export interface LoggedRow {
  systemId: string;
  quantityCode: string;
  at: Date;
  rise: number | null;
  volumeL: number | null;
  makeUp: number | null;
  amount: number;
  unit: string;
  substance: string;
}

/** One row of {@link correctionsQuery}. */
export interface CorrectionRow extends Omit<CorrectionRecord, 'quantity' | 'basis' | 'steps' | 'reading'> {
  /** The quantity as the database spells its columns. */
  quantity: Record<string, unknown>;
  basis: unknown;
  reading: { id: string; value: number };
}
