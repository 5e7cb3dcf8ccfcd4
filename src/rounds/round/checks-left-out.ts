import { noteLeftOut } from '../../farm/equipment/checks.ts';
import type { Work } from '../../platform/change.ts';

/** A system whose equipment was to be checked on one occurrence of a plan. */
export interface UnansweredCheck {
  planId: string;
  plan: string;
  day: string;
  systemId: string;
}

/** How a check that was left out is told from others. */
export const leftOutKey = ({ planId, day }: Pick<UnansweredCheck, 'planId' | 'day'>): string =>
  `check:${planId} ${day}`;

/** Of occurrences ($1 plans, $2 days), the systems whose equipment was to be checked and nobody answered for. */
export const leftOutQuery = `
  SELECT DISTINCT plan.id AS "planId", plan.name AS plan, asked.day, tank.system_id AS "systemId"
    FROM unnest($1::uuid[], $2::text[]) AS asked(plan_id, day)
    JOIN round_plan AS plan ON plan.id = asked.plan_id AND 'check' = ANY(plan.steps)
    JOIN round_plan_tank AS walked ON walked.plan_id = plan.id JOIN tank ON tank.id = walked.tank_id
   WHERE NOT EXISTS (SELECT 1 FROM round_entry AS entry JOIN round ON round.id = entry.round_id
                      WHERE round.plan_id = plan.id AND round.day = asked.day::date AND entry.kind IN ('chore', 'fault')
                        AND entry.detail ->> 'key' = 'check:' || tank.system_id)`;

/** Keeps each in the books of the farm, from where the watch tells of it; `why`: "which is late". */
export async function keepLeftOut(work: Work, left: readonly UnansweredCheck[], why: string): Promise<void> {
  for (const { planId, plan, day, systemId } of left)
    await noteLeftOut(work, {
      systemId,
      key: leftOutKey({ planId, day }),
      words: `equipment not checked on ${plan}, ${why}`,
    });
}

/** When a round ends, the checks of equipment that nobody answered are told of. */
export async function noteChecksLeftOut(work: Work, round: { planId: string; day: Date }): Promise<void> {
  const day = round.day.toISOString().slice(0, 10);
  const left = await work.tx.$queryRawUnsafe<UnansweredCheck[]>(leftOutQuery, [round.planId], [day]);
  await keepLeftOut(work, left, 'which was finished');
}
