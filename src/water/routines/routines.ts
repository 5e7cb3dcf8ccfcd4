import type pg from 'pg';
import type { Prisma, Routine as RoutineRow } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { calendarDayOf, dayNumber, localDay } from '../../platform/days.ts';
import { type Page, pageOf } from '../../platform/door/pages.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Tx } from '../../platform/service.ts';
import { litres } from '../../platform/units/measures.ts';
import { convertMeasure } from '../../science/units.ts';
import { lookAtDose, unexplained } from '../log/doses.ts';
import type { Quantity } from '../quantities/quantities.ts';
import { lockOpenWaterSystem, type WaterSystem } from '../systems/systems.ts';
import { lastDoneJoin } from './last-done.ts';
import { nextDueDay, type RoutinePlan } from './routines.rules.ts';
import type { RoutineInput } from './routines.schema.ts';

/** A routine of a system, when it was last done and when it is due next. */
export interface Routine {
  id: string;
  systemId: string;
  systemName: string;
  systemVolumeL: number;
  timeZone: string;
  plan: RoutinePlan;
  quantity: Pick<Quantity, 'code' | 'name'> | null;
  /** Of a feeding in one tank. */
  tank: string | null;
  everyDays: number;
  /** ISO weekdays it falls on; none where it comes every so many days. */
  weekdays: number[];
  /** Local days, "2026-11-24". */
  startsOn: string;
  endedAt: Date | null;
  version: number;
  lastAt: Date | null;
  /** Local day on which it is due next, and on which it was last done; null where it never was. */
  dueOn: string;
  lastOn: string | null;
}

type Row = Omit<Routine, 'plan' | 'quantity' | 'dueOn' | 'lastOn'> & {
  work: RoutinePlan['work'];
  quantityCode: string | null;
  quantityName: string | null;
  detail: object;
};

const columns = `
  SELECT routine.id, routine.system_id AS "systemId", system.name AS "systemName", system.volume_l AS "systemVolumeL",
         site.time_zone AS "timeZone", routine.work, routine.quantity_code AS "quantityCode", quantity.name AS "quantityName",
         routine.detail, tank.name AS tank, routine.every_days AS "everyDays", routine.weekdays, routine.starts_on::text AS "startsOn",
         routine.ended_at AS "endedAt", routine.version, last.at AS "lastAt"
    FROM routine
    JOIN system ON system.id = routine.system_id JOIN site ON site.id = system.site_id
    LEFT JOIN quantity ON quantity.code = routine.quantity_code
    LEFT JOIN tank ON tank.id = (routine.detail ->> 'tankId')::uuid
    ${lastDoneJoin}`;

function routineOf({ work, quantityCode, quantityName, detail, ...row }: Row): Routine {
  const lastOn = row.lastAt === null ? null : localDay(row.lastAt, row.timeZone);
  const cadence = { startsDay: dayNumber(row.startsOn), everyDays: row.everyDays, weekdays: row.weekdays };
  return {
    ...row,
    plan: { ...detail, work, ...(work === 'test' ? { quantityCode } : {}) } as RoutinePlan,
    quantity:
      quantityCode === null || quantityName === null ? null : { code: quantityCode, name: quantityName },
    lastOn,
    dueOn: calendarDayOf(nextDueDay(cadence, lastOn === null ? null : dayNumber(lastOn))),
  };
}

const order = `ORDER BY array_position(ARRAY['test', 'water_change', 'dose', 'feeding'], routine.work), quantity.position, routine.created_at, routine.id`;

/** The running routines of these systems, and those that ended within a year. One query. */
export async function listRoutines(
  pool: SqlReader,
  systemIds: readonly string[],
  now: Date,
): Promise<{ running: Routine[]; ended: Routine[] }> {
  const query = `${columns} WHERE routine.system_id = ANY($1::uuid[]) AND ${isListed} ${order}`;
  return runningAndEnded((await pool.query<Row>(query, [systemIds, now])).rows.map(routineOf));
}

const isListed = `(routine.ended_at IS NULL OR routine.ended_at > $2::timestamptz - interval '1 year')`;

const runningAndEnded = (routines: readonly Routine[]) => ({
  running: routines.filter(({ endedAt }) => endedAt === null),
  ended: routines.filter(({ endedAt }) => endedAt !== null),
});

/** Where a routine stands among all of a system: whether it has ended, when it was planned or ended, its id. */
export type RoutinePlace = readonly [ended: boolean, at: string, id: string];

/** SQL: running ones by when they were planned, then ended ones, the last first. */
const placeInSql = `routine.ended_at IS NOT NULL,
  CASE WHEN routine.ended_at IS NULL THEN extract(epoch FROM routine.created_at) ELSE -extract(epoch FROM routine.ended_at) END, routine.id`;

const placesQuery = `
  SELECT routine.id, routine.ended_at IS NOT NULL AS ended, coalesce(routine.ended_at, routine.created_at) AS at
    FROM routine
   WHERE routine.system_id = $1::uuid AND ${isListed}
     AND ($3::boolean IS NULL
          OR (${placeInSql}) > ($3::boolean, CASE WHEN $3 THEN -1 ELSE 1 END * extract(epoch FROM $4::timestamptz), $5::uuid))
   ORDER BY ${placeInSql} LIMIT $6::int`;

/** A page of what {@link listRoutines} tells of one system, and the place of its last one where there are more. Two queries. */
export async function pageOfRoutines(
  reader: SqlReader,
  systemId: string,
  { after, limit }: Page<RoutinePlace>,
  now: Date,
): Promise<{ running: Routine[]; ended: Routine[]; next: string | null }> {
  type Placed = { id: string; ended: boolean; at: Date };
  const values = [systemId, now, ...(after ?? [null, null, null]), limit + 1];
  const { rows } = await reader.query<Placed>(placesQuery, values);
  const { some, next } = pageOf(rows, limit, ({ ended, at, id }) => [ended, at.toISOString(), id]);
  const query = `${columns} WHERE routine.id = ANY($1::uuid[]) ${order}`;
  const found = await reader.query<Row>(query, [some.map(({ id }) => id), now]);
  return { ...runningAndEnded(found.rows.map(routineOf)), next };
}

/** @throws Refusal 404 */
export async function findRoutine(reader: SqlReader, id: string, now: Date): Promise<Routine> {
  const [row] = (await reader.query<Row>(`${columns} WHERE routine.id = $1::uuid`, [id, now])).rows;
  if (row === undefined) throw notFound('This routine');
  return routineOf(row);
}

// A routine that is changed ends, and another begins in the same moment.
const successor = `
  WITH RECURSIVE after AS (
    SELECT id, system_id, work, ended_at FROM routine WHERE id = $1::uuid
    UNION
    SELECT next.id, next.system_id, next.work, next.ended_at FROM routine next
      JOIN after ON next.system_id = after.system_id AND next.work = after.work
                AND next.created_at = after.ended_at AND next.id > after.id)
  SELECT id FROM after WHERE ended_at IS NULL ORDER BY id LIMIT 1`;

/** What runs in place of this routine now: itself, what it was changed to, or null when that has ended. */
export async function runningInPlaceOf(pool: pg.Pool, id: string, now: Date): Promise<Routine | null> {
  const [row] = (await pool.query<{ id: string }>(successor, [id])).rows;
  return row === undefined ? null : findRoutine(pool, row.id, now);
}

/** The routine, locked until the change ends, so that nobody else ticks it off meanwhile. @throws Refusal 404 */
export async function lockRoutine(tx: Tx, id: string, now: Date): Promise<Routine> {
  await tx.$queryRaw`SELECT id FROM routine WHERE id = ${id}::uuid FOR UPDATE`;
  return findRoutine(readerOf(tx), id, now);
}

/**
 * Plans a routine.
 * @throws Refusal 404 no such system; 409 the same is planned already; 422 retired, or more water than there is
 */
export async function planRoutine(
  work: Work,
  systemId: string,
  input: RoutineInput,
): Promise<{ id: string }> {
  const system = await lockOpenWaterSystem(work.tx, systemId);
  const { everyDays, weekdays, startsOn } = input;
  const plan = await planColumns(work, system, input);
  const { id } = await work.tx.routine.create({
    data: {
      systemId,
      ...plan,
      everyDays,
      weekdays,
      startsOn: new Date(startsOn),
      accountId: work.accountId,
      createdAt: work.now,
    },
  });
  work.record(
    'routine.planned',
    { type: 'routine', id },
    { system: system.name, ...plan, everyDays, weekdays, startsOn, ...reasonOf(input) },
  );
  work.reevaluate(systemId);
  return { id };
}

/** Why a dose is right although it is unusual: for the journal. */
const reasonOf = (input: RoutineInput) =>
  input.work === 'dose' && input.reason ? { reason: input.reason } : {};

/** The columns that say what is done. */
type PlanColumns = Pick<Prisma.RoutineUncheckedCreateInput, 'work' | 'quantityCode'> & {
  detail: Prisma.InputJsonObject;
};

async function planColumns(
  { tx, now }: Work,
  system: WaterSystem,
  input: RoutineInput,
): Promise<PlanColumns> {
  switch (input.work) {
    case 'test': {
      if ((await tx.quantity.count({ where: { code: input.quantityCode } })) === 0)
        throw new Refusal('Choose what is tested from the list.', { field: 'quantityCode' });
      return { work: 'test', quantityCode: input.quantityCode, detail: {} };
    }
    case 'water_change': {
      const volumeL =
        input.volumeUnit === '%'
          ? (system.volumeL * input.volume) / 100
          : convertMeasure('volume', input.volume, input.volumeUnit, 'L');
      if (volumeL > system.volumeL)
        throw new Refusal(`${system.name} holds ${litres(system.volumeL)}. Enter no more than that.`, {
          field: 'volume',
        });
      return { work: 'water_change', quantityCode: null, detail: { volumeL } };
    }
    case 'dose': {
      const { substance, amount, unit } = input;
      const dose = { substance, amount, unit, quantityCode: '', rise: null, at: now, note: '' };
      const looked = await lookAtDose(tx, system, dose, { purpose: 'routine', dailyCap: null });
      if (looked.concerns.length > 0 && (input.reason ?? '') === '')
        throw unexplained(looked, 'this system needs it each time');
      const raises = looked.effect?.quantityCode ?? null;
      return { work: 'dose', quantityCode: raises, detail: { substance, amount, unit } };
    }
    case 'feeding': {
      const { food, amountG, tankId, pumpsOffMin } = input;
      if (tankId !== null && (await tx.tank.count({ where: { id: tankId, systemId: system.id } })) === 0)
        throw new Refusal(`Choose a tank of ${system.name}.`, { field: 'tankId' });
      return { work: 'feeding', quantityCode: null, detail: { food, amountG, tankId, pumpsOffMin } };
    }
  }
}

/** Ends a routine and plans another in its place, so that the history keeps both. */
export async function changeRoutine(
  work: Work,
  id: string,
  input: RoutineInput,
): Promise<{ id: string; systemId: string }> {
  const { systemId } = await endRoutine(work, id, input.version);
  return { ...(await planRoutine(work, systemId, input)), systemId };
}

/** Ends a routine: it is no longer due; what was logged stays. @throws Refusal 404; 409 ended or changed meanwhile */
export async function endRoutine(work: Work, id: string, version: number): Promise<{ systemId: string }> {
  const routine: RoutineRow | null = await work.tx.routine.findUnique({ where: { id } });
  if (routine === null) throw notFound('This routine');
  const { count } = await work.tx.routine.updateMany({
    where: { id, version, endedAt: null },
    data: { endedAt: work.now, version: { increment: 1 } },
  });
  if (count === 0) throw staleEdit('this routine');
  work.record('routine.ended', { type: 'routine', id });
  work.reevaluate(routine.systemId);
  return { systemId: routine.systemId };
}
