import type pg from 'pg';
import { z } from 'zod';
import type { Quantity } from '../generated/prisma/client.ts';
import type { Tx } from '../platform/service.ts';
import { localDay } from '../platform/web/moments.ts';
import type { Course, Moved } from './correction-course.rules.ts';
import { type Ahead, type Hold, holdOf } from './correction-hold.rules.ts';
import { type Correctable, type MeansCode, marginOf, meansName, movedBy } from './correction-means.rules.ts';
import type { Together } from './correction-together.rules.ts';
import type { Candidate } from './correction-trust.rules.ts';
import { litres } from './numbers.ts';

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
  usualPerDay: z.number(),
  changes: z.array(z.number()),
  afterU: z.array(z.number()),
});
export type Basis = z.output<typeof basisSchema>;

/** One step as it stands. */
export interface StepState {
  id: string;
  position: number;
  /** Local day planned, "2026-11-24". */
  dueOn: string;
  amount: number;
  unit: 'g' | 'mL' | 'L';
  /** What it changes at once, canonical. */
  change: number;
  expectedAfter: number;
  expectedU: number;
  retest: boolean;
  doneAt: Date | null;
  doneBy: string | null;
  leftOutAt: Date | null;
  voided: boolean;
  note: string;
}

/** A correction with everything that decides about its next step. */
export interface CorrectionState {
  id: string;
  systemId: string;
  systemName: string;
  timeZone: string;
  quantity: Quantity;
  means: MeansCode;
  basis: Basis;
  reading: { id: string; at: Date; value: number };
  target: number;
  dailyCap: number;
  capSource: string;
  volumeL: number;
  reason: string;
  startsOn: string;
  by: string | null;
  createdAt: Date;
  finishedAt: Date | null;
  stoppedAt: Date | null;
  stopReason: string | null;
  revisesId: string | null;
  revisedById: string | null;
  version: number;
  steps: StepState[];
  course: Course;
  readings: Candidate[];
  suspectKits: ReadonlySet<string>;
  others: string[];
  outside: Ahead['outside'];
  together: Together;
}

/** Runs one query and gives its rows: over the pool, or inside a change. */
export type Ask = <T>(sql: string, values: readonly unknown[]) => Promise<T[]>;

export const askPool =
  (pool: pg.Pool): Ask =>
  async <T>(sql: string, values: readonly unknown[]) =>
    (await pool.query(sql, [...values])).rows as T[];

export const askTx =
  (tx: Tx): Ask =>
  async <T>(sql: string, values: readonly unknown[]) =>
    tx.$queryRawUnsafe<T[]>(sql, ...values);

/** Which corrections: those of some systems, or one; running ones only, or all. */
export interface CorrectionFilter {
  systemIds?: readonly string[];
  id?: string;
  running?: boolean;
}

const corrections = `
  SELECT correction.id, correction.system_id AS "systemId", system.name AS "systemName", site.time_zone AS "timeZone",
         row_to_json(quantity) AS quantity, correction.substance AS means, correction.basis,
         json_build_object('id', correction.reading_id, 'value', correction.from_value) AS reading,
         correction.target_value AS target, correction.daily_cap AS "dailyCap", correction.cap_source AS "capSource",
         correction.volume_l AS "volumeL", correction.reason, correction.starts_on::text AS "startsOn", account.name AS by,
         correction.created_at AS "createdAt", correction.finished_at AS "finishedAt", correction.stopped_at AS "stoppedAt",
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
   ORDER BY correction.created_at DESC, correction.id DESC LIMIT 200`;

const steps = `
  SELECT step.correction_id AS "correctionId", step.id, step.position, step.due_on::text AS "dueOn", step.amount, step.unit,
         step.expected_after AS "expectedAfter", step.retest, step.done_at AS "doneAt", account.name AS "doneBy",
         step.left_out_at AS "leftOutAt", step.note, dose.effect, water_change.volume_l AS "changedL",
         (dose.voided_at IS NOT NULL OR water_change.voided_at IS NOT NULL) AS voided
    FROM correction_step AS step
    LEFT JOIN account ON account.id = step.done_by_id
    LEFT JOIN dose ON dose.id = step.dose_id
    LEFT JOIN water_change ON water_change.id = step.water_change_id
   WHERE step.correction_id = ANY($1::text[]::uuid[]) ORDER BY step.position`;

/** Of each quantity of each system, from two days before the first reading on; the newest 500. */
const readings = `
  SELECT picked.system_id AS "systemId", picked.quantity_code AS "quantityCode", picked.id, picked.at, picked.value,
         picked.below_detection AS below, picked.uncertainty, picked.kit_id AS "kitId", picked.method_id AS "methodId", picked.trust::text
    FROM unnest($1::text[]::uuid[], $2::text[], $3::timestamptz[]) AS wanted(system_id, code, since)
    JOIN LATERAL (SELECT * FROM reading WHERE reading.system_id = wanted.system_id AND reading.quantity_code = wanted.code
                     AND voided_at IS NULL AND trust <> 'refuted' AND at >= wanted.since AND at <= $4
                   ORDER BY at DESC, created_at DESC LIMIT 500) AS picked ON true`;

/** The newest trusted reading of what stands in the water together, of the last seven days. */
const together = `
  SELECT wanted.system_id AS "systemId", wanted.code, picked.value
    FROM (SELECT DISTINCT unnest($1::text[]::uuid[]) AS system_id) AS systems
   CROSS JOIN LATERAL (SELECT systems.system_id, unnest($2::text[]) AS code) AS wanted
    JOIN LATERAL (SELECT value FROM reading WHERE reading.system_id = wanted.system_id AND reading.quantity_code = wanted.code
                     AND voided_at IS NULL AND trust NOT IN ('refuted', 'unconfirmed') AND at <= $3 AND at > $3::timestamptz - interval '7 days'
                   ORDER BY at DESC LIMIT 1) AS picked ON true`;

/** What was logged besides the steps of corrections: doses of known effect, water changes with their make-up water. */
const logged = `
  SELECT dose.system_id AS "systemId", dose.quantity_code AS "quantityCode", dose.at, dose.effect AS rise, NULL::float8 AS "volumeL",
         NULL::float8 AS "makeUp", dose.amount, dose.unit, dose.substance
    FROM dose LEFT JOIN correction_step AS step ON step.dose_id = dose.id
   WHERE dose.system_id = ANY($1::text[]::uuid[]) AND dose.at > $2 AND dose.at <= $3 AND dose.voided_at IS NULL
     AND dose.effect IS NOT NULL AND step.id IS NULL
  UNION ALL
  SELECT change.system_id, target.quantity_code, change.at, NULL, change.volume_l, target.make_up, change.volume_l, 'L', 'water change'
    FROM water_change AS change LEFT JOIN correction_step AS step ON step.water_change_id = change.id
    JOIN system_quantity AS target ON target.system_id = change.system_id AND target.make_up IS NOT NULL
   WHERE change.system_id = ANY($1::text[]::uuid[]) AND change.at > $2 AND change.at <= $3 AND change.voided_at IS NULL AND step.id IS NULL`;

/** Kits that the watch names or suspects of reading wrong. */
const suspects = `SELECT subject_id AS id FROM open_alert WHERE rule = 'kit-biased'`;

interface CorrectionRow
  extends Omit<
    CorrectionState,
    | 'quantity'
    | 'basis'
    | 'steps'
    | 'course'
    | 'readings'
    | 'suspectKits'
    | 'others'
    | 'outside'
    | 'together'
    | 'reading'
  > {
  quantity: Record<string, unknown>;
  basis: unknown;
  reading: { id: string; value: number };
}
interface StepRow extends Omit<StepState, 'change' | 'expectedU'> {
  correctionId: string;
  effect: number | null;
  changedL: number | null;
}
interface LoggedRow {
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

/** The newest readings of one quantity, the kits nobody trusts, and what stands in the water, for a plan to start from. */
export async function readWaterNow(
  ask: Ask,
  systemId: string,
  code: Correctable,
  now: Date,
): Promise<{ readings: Candidate[]; suspectKits: ReadonlySet<string>; water: Together }> {
  const since = new Date(now.getTime() - 14 * 86_400_000);
  const read = await ask<Candidate>(readings, [[systemId], [code], [since], now]);
  const stands = await ask<{ code: string; value: number }>(together, [[systemId], [...watched], now]);
  const suspectKits = new Set((await ask<{ id: string }>(suspects, [])).map((row) => row.id));
  return { readings: read, suspectKits, water: togetherOf(stands) };
}

function togetherOf(rows: readonly { code: string; value: number }[]): Together {
  const levelOf = (code: string) => rows.find((row) => row.code === code)?.value ?? null;
  return Object.fromEntries(watched.map((code) => [code, levelOf(code)])) as unknown as Together;
}

const watched = ['alkalinity', 'calcium', 'magnesium', 'salinity', 'temperature', 'ph'] as const;
const dayOf = (at: Date) => at.getTime() / 86_400_000;

/** Corrections with what decides about their next steps: six queries, however many there are. */
export async function readCorrections(
  ask: Ask,
  { systemIds, id, running = false }: CorrectionFilter,
  now: Date,
): Promise<CorrectionState[]> {
  // Of one alone, those that run beside it are read too: they may hold it back.
  const found = await ask<CorrectionRow>(corrections, [
    systemIds ?? null,
    id ?? null,
    running || id !== undefined,
  ]);
  if (found.length === 0) return [];
  const rows = found.map((row) => ({ ...row, basis: basisSchema.parse(row.basis) }));
  const systems = [...new Set(rows.map((row) => row.systemId))];
  const since = rows.map((row) => new Date(row.basis.fromAt.getTime() - 2 * 86_400_000));
  const earliest = new Date(Math.min(...since.map((at) => at.getTime())));
  // One after the other: inside a change they share one connection.
  const stepRows = await ask<StepRow>(steps, [rows.map((row) => row.id)]);
  const wanted = [rows.map((row) => row.systemId), rows.map((row) => String(row.quantity.code)), since, now];
  const read = await ask<Candidate & { systemId: string; quantityCode: string }>(readings, wanted);
  const water = await ask<{ systemId: string; code: string; value: number }>(together, [
    systems,
    [...watched],
    now,
  ]);
  const log = await ask<LoggedRow>(logged, [systems, earliest, now]);
  const suspectKits = new Set((await ask<{ id: string }>(suspects, [])).map((row) => row.id));
  const states = rows.map((row) =>
    stateOf(row, {
      steps: stepRows.filter((step) => step.correctionId === row.id),
      readings: distinct(
        read.filter((one) => one.systemId === row.systemId && one.quantityCode === row.quantity.code),
      ).filter((one) => dayOf(one.at) >= dayOf(row.basis.fromAt) - 2),
      logged: log.filter((one) => one.systemId === row.systemId && one.quantityCode === row.quantity.code),
      water: water.filter((one) => one.systemId === row.systemId),
      suspectKits,
    }),
  );
  return states
    .filter((state) => id === undefined || state.id === id)
    .map((state) => ({ ...state, others: othersOf(state, states) }));
}

const distinct = <T extends { id: string }>(all: readonly T[]): T[] => [
  ...new Map(all.map((one) => [one.id, one])).values(),
];

interface Around {
  steps: StepRow[];
  readings: Candidate[];
  logged: LoggedRow[];
  water: { code: string; value: number }[];
  suspectKits: ReadonlySet<string>;
}

function stateOf(row: Omit<CorrectionRow, 'basis'> & { basis: Basis }, around: Around): CorrectionState {
  const { basis } = row;
  return {
    ...row,
    quantity: quantityOf(row.quantity),
    reading: { ...row.reading, at: basis.fromAt },
    steps: around.steps.map(({ effect, changedL, correctionId, ...step }, i) => ({
      ...step,
      change: basis.changes[i] ?? 0,
      expectedU: basis.afterU[i] ?? 0,
    })),
    course: {
      from: { day: dayOf(basis.fromAt), value: row.reading.value, u: basis.fromU },
      driftPerDay: basis.drift?.perDay ?? 0,
      driftSd: basis.drift?.sd ?? 0,
      relativeU: basis.relativeU,
      saline: row.quantity.code === 'salinity',
      done: around.steps.flatMap((step) => movedByStep(step, row.volumeL, basis.makeUp)),
    },
    readings: around.readings,
    suspectKits: around.suspectKits,
    others: [],
    outside: around.logged.map((one) => outsideOf(one, row)),
    together: togetherOf(around.water),
  };
}

/** A quantity out of a row as the database spells it. */
function quantityOf(row: Record<string, unknown>): Quantity {
  const camel = (name: string) => name.replace(/_([a-z])/g, (_, letter: string) => letter.toUpperCase());
  return Object.fromEntries(
    Object.entries(row).map(([name, value]) => [camel(name), value]),
  ) as unknown as Quantity;
}

function movedByStep(
  { doneAt, effect, changedL, voided }: StepRow,
  volumeL: number,
  makeUp: number | null,
): Moved[] {
  if (doneAt === null || voided) return [];
  if (effect !== null) return [{ day: dayOf(doneAt), rise: effect }];
  return changedL === null || makeUp === null
    ? []
    : [{ day: dayOf(doneAt), fraction: changedL / volumeL, makeUp }];
}

function outsideOf(
  one: LoggedRow,
  row: { volumeL: number; reading: { value: number } },
): Ahead['outside'][number] {
  const part = Math.min(1, (one.volumeL ?? 0) / row.volumeL);
  const moves = one.rise ?? part * ((one.makeUp ?? row.reading.value) - row.reading.value);
  const words =
    one.rise === null
      ? `A water change of ${litres(one.amount)}`
      : `A dose of ${one.amount} ${one.unit} ${one.substance}`;
  return { at: one.at, moves, words };
}

const runs = (state: CorrectionState) => state.finishedAt === null && state.stoppedAt === null;

function othersOf(state: CorrectionState, all: readonly CorrectionState[]): string[] {
  return all
    .filter(
      (one) => one.id !== state.id && one.systemId === state.systemId && runs(one) && openStep(one) !== null,
    )
    .filter((one) =>
      movedBy(one.means, one.quantity.code as Correctable).includes(state.quantity.code as Correctable),
    )
    .map((one) => `${one.quantity.name.toLowerCase()} by ${meansName(one.means)}`);
}

/** Whether a correction is still going on. */
export const isRunning = runs;

/** The next step to be done, if there is one. */
export function openStep(state: CorrectionState): StepState | null {
  return state.steps.find((step) => step.doneAt === null && step.leftOutAt === null) ?? null;
}

/** When the last step was done; null before the first. */
export function lastDone(state: CorrectionState): Date | null {
  const times = state.steps.flatMap((step) => (step.doneAt === null ? [] : [step.doneAt.getTime()]));
  return times.length === 0 ? null : new Date(Math.max(...times));
}

/** The local day on which a step may be done at the earliest: as planned, or the day after the step before it. */
export function dueDay(state: CorrectionState, step: StepState): string {
  const last = lastDone(state);
  if (last === null) return step.dueOn;
  const next = localDay(new Date(last.getTime() + 86_400_000), state.timeZone);
  return [next, step.dueOn].sort().at(-1) ?? next;
}

/** Everything the rule of holding back needs for the next step. */
export function aheadOf(state: CorrectionState, step: StepState, now: Date): Ahead {
  return {
    quantity: state.quantity,
    now,
    step,
    course: state.course,
    target: state.target,
    margin: marginOf(state.quantity.code as Correctable),
    lastDoneAt: lastDone(state),
    readings: state.readings,
    suspectKits: state.suspectKits,
    others: state.others,
    outside: state.outside,
    usualPerDay: state.basis.usualPerDay,
    voidedStep: state.steps.some((one) => one.voided),
    together: state.together,
  };
}

/** Why the next step is held back now; null when it may be done, or there is none. */
export function heldNow(state: CorrectionState, now: Date): Hold | null {
  const step = openStep(state);
  return step === null || !runs(state) ? null : holdOf(aheadOf(state, step, now));
}
