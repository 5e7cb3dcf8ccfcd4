import type pg from 'pg';
import { noteLeftOut } from '../../farm/equipment/checks.ts';
import { change, type Work } from '../../platform/change.ts';
import type { Service } from '../../platform/service.ts';
import { hourMs } from '../../science/numeric/time.ts';
import { plannedRounds } from '../schedule/schedule.ts';

/** Hours after its time from which a round’s check that nobody answered is told of; own choice. */
const LATE_HOURS = 4;
const ended: readonly string[] = ['missed', 'unfinished'];

interface LeftOut {
  planId: string;
  plan: string;
  day: string;
  systemId: string;
}

/** Systems of one occasion of a plan whose equipment was to be checked and nobody answered for. */
const leftOutQuery = `
  SELECT DISTINCT plan.id AS "planId", plan.name AS plan, asked.day, tank.system_id AS "systemId"
    FROM unnest($1::uuid[], $2::text[]) AS asked(plan_id, day)
    JOIN round_plan AS plan ON plan.id = asked.plan_id AND 'check' = ANY(plan.steps)
    JOIN round_plan_tank AS walked ON walked.plan_id = plan.id JOIN tank ON tank.id = walked.tank_id
   WHERE NOT EXISTS (SELECT 1 FROM round_entry AS entry JOIN round ON round.id = entry.round_id
                      WHERE round.plan_id = plan.id AND round.day = asked.day::date AND entry.kind IN ('chore', 'fault')
                        AND entry.detail ->> 'key' = 'check:' || tank.system_id)`;

/** Keeps each in the books of the farm, from where the watch tells of it. */
async function keep(work: Work, left: readonly LeftOut[], why: string): Promise<number> {
  let kept = 0;
  for (const { planId, plan, day, systemId } of left) {
    const words = `equipment not checked on ${plan}, ${why}`;
    if (await noteLeftOut(work, { systemId, key: `check:${planId} ${day}`, words })) kept += 1;
  }
  return kept;
}

/** When a round ends, the checks of equipment that nobody answered are told of. */
export async function noteChecksLeftOut(work: Work, round: { planId: string; day: Date }): Promise<void> {
  const day = round.day.toISOString().slice(0, 10);
  const left = await work.tx.$queryRawUnsafe<LeftOut[]>(leftOutQuery, [round.planId], [day]);
  await keep(work, left, 'which was finished');
}

/** Of rounds that are hours late, begun or not, the checks that nobody answered are told of without anybody's tap. */
export async function lookAtMissedChecks(service: Service, now: Date): Promise<void> {
  const sites = await service.pool.query<{ id: string }>('SELECT id FROM site');
  for (const { id } of sites.rows) await lookAtSite(service, service.pool, id, now);
}

async function lookAtSite(service: Service, pool: pg.Pool, siteId: string, now: Date): Promise<void> {
  const overdue = (await plannedRounds(pool, siteId, now, 1)).filter(
    ({ state, steps, dueAt }) =>
      steps.includes('check') &&
      (ended.includes(state) ||
        (state !== 'finished' && now.getTime() - dueAt.getTime() > LATE_HOURS * hourMs)),
  );
  if (overdue.length === 0) return;
  const { rows } = await pool.query<LeftOut>(leftOutQuery, [
    overdue.map(({ planId }) => planId),
    overdue.map(({ day }) => day),
  ]);
  const known = await pool.query<{ leftOut: string; systemId: string }>(
    'SELECT left_out AS "leftOut", system_id AS "systemId" FROM fault WHERE left_out IS NOT NULL AND noted_at > $1::timestamptz - interval \'7 days\'',
    [now],
  );
  const told = new Set(known.rows.map((one) => `${one.systemId} ${one.leftOut}`));
  const left = rows.filter(({ planId, day, systemId }) => !told.has(`${systemId} check:${planId} ${day}`));
  if (left.length === 0) return;
  await change(service, { accountId: null }, async (work) => {
    const kept = await keep(work, left, 'which is late');
    if (kept === 0) work.record('check.left_out', { type: 'system', id: left[0]?.systemId ?? '' }, {});
  });
}
