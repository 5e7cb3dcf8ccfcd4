import { type CopiedTo, somethingCopied, type ToSystems } from '../../farm/systems/copies.schema.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { longestPlanName } from './plans.schema.ts';
import { addPlan, editPlan, findPlan, listPlans, listWalkableTanks } from './plans.ts';

/** What a copy for a system is called: of a name that is too long the plan's part is cut, so that each system's differs. */
const copyName = (plan: string, system: string) =>
  `${plan.slice(0, Math.max(0, longestPlanName - system.length - 2))}, ${system}`.slice(-longestPlanName);

/** The plans that pass tanks of each system, by name. */
export async function planNames(db: Reader, siteId: string): Promise<Map<string, string[]>> {
  const [plans, tanks] = await Promise.all([listPlans(db, siteId), listWalkableTanks(db, siteId)]);
  const bySystem = Map.groupBy(tanks, ({ systemId }) => systemId);
  return new Map(
    [...bySystem].map(([id, own]) => {
      const ids = new Set(own.map((tank) => tank.id));
      return [id, plans.filter(({ tankIds }) => tankIds.some((one) => ids.has(one))).map(({ name }) => name)];
    }),
  );
}

/**
 * Makes a plan like this one for each of some systems: time, days, steps, chores and walker, past all tanks of that system.
 * A plan that a copy made before is left alone or replaced; the plan itself stays as it is.
 * @throws Refusal 404; 422 a system without tanks
 */
export async function copyPlan(work: Work, id: string, { systems, there }: ToSystems): Promise<CopiedTo[]> {
  const { siteId, name, startsAt, weekdays, steps, chores, assigneeId } = await findPlan(work.tx, id);
  const tanks = Map.groupBy(await listWalkableTanks(work.tx, siteId), ({ systemId }) => systemId);
  const plans = await listPlans(work.tx, siteId);
  const done: CopiedTo[] = [];
  for (const systemId of systems) {
    const own = tanks.get(systemId) ?? [];
    const system = own[0]?.systemName;
    if (system === undefined)
      throw new Refusal('One of the systems has no tank. Add its tanks first, or leave it out.', {
        field: 'systems',
      });
    const called = copyName(name, system);
    const before = plans.find((one) => one.name === called);
    if (before !== undefined && (there === 'leave' || before.id === id)) {
      done.push({ system, copied: 0, left: [called] });
      continue;
    }
    const like = {
      startsAt,
      weekdays,
      steps,
      chores,
      assigneeId,
      name: called,
      tankIds: own.map((tank) => tank.id),
      paused: false,
    };
    if (before === undefined) await addPlan(work, siteId, { ...like, version: 0 });
    else await editPlan(work, before.id, { ...like, version: before.version });
    done.push({ system, copied: 1, left: [] });
  }
  return somethingCopied(done);
}
