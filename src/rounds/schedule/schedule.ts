import type pg from 'pg';
import { localDay } from '../../platform/days.ts';
import { dayMs } from '../../science/numeric/time.ts';
import {
  occurrenceOn,
  occurrencesOf,
  type RoundState,
  type Schedule,
  stateOf,
} from '../plans/occurrences.rules.ts';
import type { Step } from '../plans/plans.schema.ts';

/** One round as it was planned for a day, and what became of it. */
export interface PlannedRound {
  planId: string;
  name: string;
  /** Local day, "2026-11-24". */
  day: string;
  isToday: boolean;
  dueAt: Date;
  state: RoundState;
  steps: Step[];
  assigneeId: string | null;
  assignee: string | null;
  /** Why it is another way on this day; empty where it is not, or nobody said. */
  changed: string;
  /** Null until it is begun. */
  roundId: string | null;
  startedAt: Date | null;
  startedBy: string | null;
  finishedAt: Date | null;
  /** Racks that hold lots, and how many of them were looked at. */
  racks: number;
  looked: number;
}

interface PlanRow extends Schedule {
  changes: (Schedule['changes'][number] & { assigneeId: string | null; assignee: string | null })[];
  id: string;
  name: string;
  steps: Step[];
  assigneeId: string | null;
  assignee: string | null;
  timeZone: string;
  racks: number;
}

interface RoundRow {
  id: string;
  planId: string;
  day: string;
  startedAt: Date;
  startedBy: string | null;
  finishedAt: Date | null;
  looked: number;
  /** Of a finished round, how many racks belonged to it. */
  racks: number | null;
}

const planQuery = `
  SELECT plan.id, plan.name, plan.starts_at AS "startsAt", plan.weekdays, plan.steps, plan.planned_since AS "plannedSince",
         plan.paused_at AS "pausedAt", plan.assignee_id AS "assigneeId", account.name AS assignee,
         site.time_zone AS "timeZone",
         (SELECT coalesce(json_agg(json_build_object('day', changed.day::text, 'cancelled', cancelled,
                    'startsAt', changed.starts_at, 'note', changed.note, 'assigneeId', changed.assignee_id,
                    'assignee', person.name)), '[]')
            FROM round_plan_day AS changed LEFT JOIN account AS person ON person.id = changed.assignee_id
           WHERE changed.plan_id = plan.id AND changed.day > $2) AS changes, coalesce(held.racks, 0)::int AS racks
    FROM round_plan AS plan
    JOIN site ON site.id = plan.site_id
    LEFT JOIN account ON account.id = plan.assignee_id
    LEFT JOIN (SELECT walked.plan_id, count(*) AS racks
                 FROM round_plan_tank AS walked JOIN rack ON rack.tank_id = walked.tank_id
                WHERE EXISTS (SELECT FROM slot JOIN placement_slot AS taken ON taken.slot_id = slot.id AND taken.to_at IS NULL
                                JOIN placement ON placement.id = taken.placement_id AND placement.to_at IS NULL WHERE slot.rack_id = rack.id)
                GROUP BY walked.plan_id) AS held ON held.plan_id = plan.id
   WHERE plan.site_id = $1
   ORDER BY plan.starts_at, plan.name`;

const roundQuery = `
  SELECT round.id, round.plan_id AS "planId", round.day::text AS day, round.started_at AS "startedAt",
         account.name AS "startedBy", round.finished_at AS "finishedAt", coalesce(seen.looked, 0)::int AS looked,
         (SELECT jsonb_array_length(detail->'racks') FROM round_entry
           WHERE round_id = round.id AND kind = 'finished' AND detail ? 'racks' ORDER BY at LIMIT 1) AS racks
    FROM round
    JOIN round_plan AS plan ON plan.id = round.plan_id
    LEFT JOIN account ON account.id = round.started_by_id
    LEFT JOIN LATERAL (SELECT count(DISTINCT rack_id) AS looked FROM round_entry
                        WHERE round_id = round.id AND kind = 'rack_well') AS seen ON true
   WHERE plan.site_id = $1 AND round.started_at > $2`;

const DAYS_BACK = 7;

/** Every occurrence of the site's plans in the last days and today, in order of time. Two queries. */
export async function plannedRounds(
  pool: pg.Pool,
  siteId: string,
  now: Date,
  daysBack = DAYS_BACK,
): Promise<PlannedRound[]> {
  const since = new Date(now.getTime() - (daysBack + 2) * dayMs);
  const [plans, rounds] = await Promise.all([
    pool.query<PlanRow>(planQuery, [siteId, since]),
    pool.query<RoundRow>(roundQuery, [siteId, since]),
  ]);
  const walked = Map.groupBy(rounds.rows, (round) => round.planId);
  return plans.rows
    .flatMap((plan) => occurrencesWith(plan, walked.get(plan.id) ?? [], now, daysBack))
    .sort((a, b) => a.dueAt.getTime() - b.dueAt.getTime());
}

/** What the plan asked for, and what was walked although the plan no longer asks for it. */
function occurrencesWith(
  plan: PlanRow,
  walked: readonly RoundRow[],
  now: Date,
  daysBack: number,
): PlannedRound[] {
  const { id: planId, name, steps, racks, timeZone } = plan;
  const asked = occurrencesOf(plan, timeZone, now, daysBack);
  const besides = walked
    .filter(({ day }) => !asked.some((occurrence) => occurrence.day === day))
    .map(({ day }) => occurrenceOn(plan, day, timeZone));
  const today = localDay(now, timeZone);
  return [...asked, ...besides].map(({ day, dueAt }) => {
    const round = walked.find((one) => one.day === day) ?? null;
    const change = plan.changes.find((one) => one.day === day);
    const { assigneeId, assignee } = change?.assigneeId ? change : plan;
    return {
      planId,
      name,
      day,
      isToday: day === today,
      dueAt,
      state: stateOf({ day, dueAt }, round, timeZone, now),
      steps,
      assigneeId,
      assignee,
      changed: change?.note ?? '',
      roundId: round?.id ?? null,
      startedAt: round?.startedAt ?? null,
      startedBy: round?.startedBy ?? null,
      finishedAt: round?.finishedAt ?? null,
      racks: round?.racks ?? racks,
      looked: round?.looked ?? 0,
    };
  });
}

/** Rounds with those that are over behind the others. */
export function openFirst<T extends { state: RoundState }>(rounds: readonly T[]): T[] {
  const isOver = ({ state }: T) => state === 'finished' || state === 'missed';
  return [...rounds.filter((round) => !isOver(round)), ...rounds.filter(isOver)];
}

const open: ReadonlySet<RoundState> = new Set(['later', 'due', 'running']);

/**
 * The rounds of today by the site's clock, whatever became of them, those of yesterday that may still be walked, and
 * those of the coming night:
 * a round begun or due late in the evening is not missed at midnight.
 */
export const ofToday = (planned: readonly PlannedRound[]): PlannedRound[] =>
  planned.filter((round) => round.isToday || open.has(round.state));

/** The rounds of the last 7 days that nobody began, or that were begun and never ended; newest first. */
export const missedOf = (planned: readonly PlannedRound[]): PlannedRound[] =>
  planned.filter(({ state }) => state === 'missed' || state === 'unfinished').reverse();

/** Today's rounds ({@link ofToday}). Two queries. */
export async function todaysRounds(pool: pg.Pool, siteId: string, now: Date): Promise<PlannedRound[]> {
  return ofToday(await plannedRounds(pool, siteId, now));
}

const cancelledQuery = `
  SELECT plan.name, changed.note
    FROM round_plan_day AS changed
    JOIN round_plan AS plan ON plan.id = changed.plan_id
   WHERE plan.site_id = $1 AND changed.day = $2 AND changed.cancelled AND plan.paused_at IS NULL
   ORDER BY plan.starts_at, plan.name`;

/** The plans that are not walked on this local day by a person's word, and why. One query. */
export async function cancelledOn(
  pool: pg.Pool,
  siteId: string,
  day: string,
): Promise<{ name: string; note: string }[]> {
  return (await pool.query<{ name: string; note: string }>(cancelledQuery, [siteId, day])).rows;
}
