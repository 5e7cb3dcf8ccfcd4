import type pg from 'pg';
import { lastEvents } from '../../farm/events/events.ts';
import { sinceHabitsChanged } from '../../farm/events/habits.rules.ts';
import type { EventKind, Trust } from '../../generated/prisma/client.ts';
import { dayOf, daysBefore } from '../../science/numeric/time.ts';
import { removeBias } from '../kits/bias.rules.ts';
import { kitBiases } from '../kits/bias.ts';
import type { MakeUp } from '../log/water-changes.rules.ts';
import { type DemandReading, type LoggedDose, risesOf } from './rate.rules.ts';
import type { DemandData } from './supply.rules.ts';

/** The quantities whose demand is worked out: what the stock uses up, and what feeding brings. */
export const demandCodes = ['alkalinity', 'calcium', 'magnesium', 'nitrate', 'phosphate'] as const;
export type DemandCode = (typeof demandCodes)[number];

/** What the demand of one system is worked out from, by quantity. */
export type SystemDemand = Map<DemandCode, DemandData>;

// Probes report all day, so the median of each day is taken. Two laboratories, or two kits, are never joined.
const readings = `
  WITH counted AS (
    SELECT reading.system_id, reading.quantity_code, reading.at, reading.value, reading.uncertainty, reading.below_detection,
           reading.trust::text AS trust, reading.kit_id, method.every_minutes,
           coalesce(nullif(method.laboratory, ''), reading.kit_id::text, reading.method_id::text, '') AS instrument
      FROM reading_with_vote AS reading LEFT JOIN method ON method.id = reading.method_id
     WHERE reading.system_id = ANY($1::uuid[]) AND reading.quantity_code = ANY($2::text[]) AND reading.at > $3 AND reading.at <= $4
       AND reading.voided_at IS NULL AND reading.slot_id IS NULL AND NOT reading.above_scale)
  SELECT system_id AS "systemId", quantity_code AS code, extract(epoch FROM at)::float8 / 86400 AS day, value, uncertainty AS u,
         below_detection AS below, trust, kit_id AS "kitId", instrument
    FROM counted WHERE every_minutes IS NULL
   UNION ALL
  SELECT system_id, quantity_code, avg(extract(epoch FROM at))::float8 / 86400, percentile_cont(0.5) WITHIN GROUP (ORDER BY value),
         avg(uncertainty), false, 'plain', kit_id, instrument
    FROM counted WHERE every_minutes IS NOT NULL AND trust IN ('plain', 'confirmed') AND NOT below_detection
   GROUP BY system_id, quantity_code, kit_id, instrument, date_trunc('day', at)
   ORDER BY day`;

const changes = `
  SELECT water_change.system_id AS "systemId", extract(epoch FROM at)::float8 / 86400 AS day, least(1, water_change.volume_l / system.volume_l) AS fraction,
         water_change.make_up AS "makeUp",
         EXISTS (SELECT 1 FROM correction_step WHERE correction_step.water_change_id = water_change.id) AS once
    FROM water_change JOIN system ON system.id = water_change.system_id
   WHERE system_id = ANY($1::uuid[]) AND at > $2 AND at <= $3 AND voided_at IS NULL ORDER BY at`;

const doses = `
  SELECT system_id AS "systemId", extract(epoch FROM at)::float8 / 86400 AS day, substance, quantity_code AS "quantityCode", effect AS rise
    FROM dose WHERE system_id = ANY($1::uuid[]) AND at > $2 AND at <= $3 AND voided_at IS NULL ORDER BY at`;

const makeUps = `
  SELECT system_id AS "systemId", quantity_code AS code, make_up AS "makeUp" FROM system_quantity
   WHERE system_id = ANY($1::uuid[]) AND make_up IS NOT NULL`;

interface ReadingRow {
  systemId: string;
  code: DemandCode;
  day: number;
  value: number;
  u: number;
  below: boolean;
  trust: Trust;
  kitId: string | null;
  instrument: string;
}
/** What is said of dosing and changing beside the log: who does it by itself or by routine, or that nobody does. */
const habits = `
  SELECT id AS "systemId", extract(epoch FROM undosed_since)::float8 / 86400 AS "undosedSince",
         extract(epoch FROM unchanged_since)::float8 / 86400 AS "unchangedSince",
         EXISTS (SELECT 1 FROM equipment WHERE kind = 'doser' AND removed_at IS NULL AND equipment.system_id = system.id)
           OR EXISTS (SELECT 1 FROM routine WHERE work = 'dose' AND ended_at IS NULL AND routine.system_id = system.id) AS "hasDoser",
         EXISTS (SELECT 1 FROM routine WHERE work = 'water_change' AND ended_at IS NULL AND routine.system_id = system.id) AS "hasChangeRoutine"
    FROM system WHERE id = ANY($1::uuid[])`;

type Habits = Pick<DemandData, 'hasDoser' | 'hasChangeRoutine' | 'undosedSince' | 'unchangedSince'>;

type ChangeRow = { systemId: string; day: number; fraction: number; makeUp: MakeUp | null; once: boolean };
type DoseRow = LoggedDose & { systemId: string };
type MakeUpRow = { systemId: string; code: DemandCode; makeUp: number };

/**
 * What the demand of these systems is worked out from, over the `days` before `now`: water changes, doses, and readings
 * without the bias of kits known to read wrong. Seven queries, however many systems.
 */
export async function readDemand(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
  days: number,
): Promise<Map<string, SystemDemand>> {
  const since = daysBefore(now, days);
  const ids = [...systemIds];
  const [read, changed, dosed, made, dosing, events] = await Promise.all([
    pool.query<ReadingRow>(readings, [ids, [...demandCodes], since, now]),
    pool.query<ChangeRow>(changes, [ids, since, now]),
    pool.query<DoseRow>(doses, [ids, since, now]),
    pool.query<MakeUpRow>(makeUps, [ids]),
    pool.query<Habits & { systemId: string }>(habits, [ids]),
    lastEvents(pool, ids, now),
  ]);
  const biases = await kitBiases(pool, [
    ...new Set(read.rows.flatMap(({ kitId }) => (kitId === null ? [] : [kitId]))),
  ]);
  const bySystem = <T extends { systemId: string }>(rows: readonly T[]) =>
    Map.groupBy(rows, (row) => row.systemId);
  const [readingsOf, changesOf] = [bySystem(read.rows), bySystem(changed.rows)];
  const [dosesOf, makeUpsOf] = [bySystem(dosed.rows), bySystem(made.rows)];
  return new Map(
    ids.map((id) => {
      const rows = {
        readings: readingsOf.get(id) ?? [],
        changes: changesOf.get(id) ?? [],
        doses: dosesOf.get(id) ?? [],
        makeUps: makeUpsOf.get(id) ?? [],
        habits: dosing.rows.find(({ systemId }) => systemId === id) ?? { hasDoser: false },
        learntSince: sinceOf(events.get(id), since),
      };
      return [id, new Map(demandCodes.map((code) => [code, dataOf(code, rows, biases)]))];
    }),
  );
}

/** The event from which on a system is learnt of; null where it lies before all that is read. */
const sinceOf = (event: { at: Date; kind: EventKind } | undefined, since: Date): DemandData['learntSince'] =>
  event === undefined || event.at < since ? null : { day: dayOf(event.at), kind: event.kind };

/** The rows of one system. */
interface Rows {
  readings: readonly ReadingRow[];
  changes: readonly ChangeRow[];
  doses: readonly DoseRow[];
  makeUps: readonly MakeUpRow[];
  habits: Habits;
  learntSince: DemandData['learntSince'];
}

/** Nutrients come from feeding: make-up water is taken to hold none of them unless it is stated. */
const nutrients = new Set<DemandCode>(['nitrate', 'phosphate']);

function dataOf(code: DemandCode, rows: Rows, biases: Awaited<ReturnType<typeof kitBiases>>): DemandData {
  const changed = rows.learntSince === null ? [] : [rows.learntSince];
  const read = sinceHabitsChanged(changed, rows.readings)
    .filter((row) => row.code === code)
    .map((row) => {
      const kit = row.kitId === null ? undefined : biases.get(row.kitId);
      const unbiased = removeBias({ value: row.value, uncertainty: row.u, below: row.below }, kit);
      const reading: DemandReading = {
        day: row.day,
        value: unbiased?.value ?? row.value,
        u: unbiased?.uncertainty ?? row.u,
        below: row.below,
        trust: row.trust,
        instrument: row.instrument,
        suspect: kit?.verdict === 'suspect',
      };
      return { reading, corrected: unbiased === null ? null : (kit?.label ?? '') };
    });
  const stated = rows.makeUps.find((row) => row.code === code)?.makeUp ?? null;
  const unknown = rows.doses
    .filter((dose) => dose.rise === null)
    .map(({ day, substance }) => ({ day, substance }));
  return {
    readings: read.map(({ reading }) => reading),
    log: {
      changes: rows.changes.map((change) => ({ ...change, makeUp: change.makeUp?.[code] ?? null })),
      doses: risesOf(rows.doses, code),
      makeUp: stated ?? (nutrients.has(code) ? 0 : null),
    },
    makeUpStated: stated !== null,
    correctedKits: [...new Set(read.flatMap(({ corrected }) => (corrected === null ? [] : [corrected])))],
    unknownDoses: unknown,
    ...habitsOf(rows.habits),
    learntSince: rows.learntSince,
  };
}

const habitsOf = ({ hasDoser, hasChangeRoutine, undosedSince, unchangedSince }: Habits) => ({
  hasDoser,
  ...(hasChangeRoutine === undefined ? {} : { hasChangeRoutine }),
  undosedSince: undosedSince ?? null,
  unchangedSince: unchangedSince ?? null,
});
