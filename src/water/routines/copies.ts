import type pg from 'pg';
import { type CopiedTo, somethingCopied, type ToSystems } from '../../farm/systems/copies.schema.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { localDay } from '../../platform/days.ts';
import { Refusal } from '../../platform/refusal.ts';
import { lookAtDose } from '../log/doses.ts';
import { findOpenWaterSystem, type WaterSystem } from '../systems/systems.ts';
import { routineTitle } from './routines.rules.ts';
import type { RoutineInput } from './routines.schema.ts';
import { endRoutine, listRoutines, planRoutine, type Routine } from './routines.ts';

/** The titles of the routines that run in systems. */
export async function routineTitles(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
): Promise<Map<string, string[]>> {
  const { running } = await listRoutines(pool, systemIds, now);
  const bySystem = Map.groupBy(running, ({ systemId }) => systemId);
  return new Map([...bySystem].map(([id, own]) => [id, own.map((one) => routineTitle(one))]));
}

/** What two routines must have alike to be the same work. */
function workKey({ plan, quantity }: Routine): string {
  switch (plan.work) {
    case 'test':
      return `test ${quantity?.code ?? ''}`;
    case 'water_change':
      return 'water_change';
    case 'dose':
      return `dose ${quantity?.code ?? plan.substance.trim().toLowerCase()}`;
    case 'feeding':
      return `feeding ${plan.food.trim().toLowerCase()}`;
  }
}

/**
 * Plans the running routines of one system for others as well. Water changes and doses are scaled by volume: as much as
 * suits the one would be too much for a smaller one. The same work that is planned there is left alone or replaced; a dose
 * that would want a reason there, and a feeding of one tank, are left out and named.
 * @throws Refusal 404; 422 when it has none, or a system is retired
 */
export async function copyRoutines(
  work: Work,
  fromId: string,
  { systems, there }: ToSystems,
): Promise<CopiedTo[]> {
  const from = await findOpenWaterSystem(work.tx, fromId);
  const reader = readerOf(work.tx);
  const all = await listRoutines(reader, [fromId, ...systems], work.now);
  const running = Map.groupBy(all.running, ({ systemId }) => systemId);
  const own = running.get(fromId) ?? [];
  if (own.length === 0) throw new Refusal(`${from.name} has no routines to copy.`, { field: 'systems' });
  const done: CopiedTo[] = [];
  for (const systemId of systems.filter((id) => id !== fromId)) {
    const system = await findOpenWaterSystem(work.tx, systemId);
    const same = Map.groupBy(running.get(systemId) ?? [], workKey);
    const left: string[] = [];
    let copied = 0;
    for (const routine of own) {
      if (routine.tank !== null) {
        left.push(`${routineTitle(routine)} (of one tank: plan it by hand)`);
        continue;
      }
      const others = same.get(workKey(routine)) ?? [];
      if (others.length > 0 && there === 'leave') {
        left.push(routineTitle(routine));
        continue;
      }
      const input = scaled(routine, system.volumeL / from.volumeL, work.now);
      if (await wantsReason(work, system, input)) {
        left.push(`${routineTitle(routine)} (unusual there: plan it by hand)`);
        continue;
      }
      for (const { id, version } of others) await endRoutine(work, id, version);
      await planRoutine(work, systemId, input);
      copied += 1;
    }
    done.push({ system: system.name, copied, left });
  }
  return somethingCopied(done);
}

/** Three digits: what can be weighed and measured. */
const rounded = (amount: number) => Number(amount.toPrecision(3));

function scaled(
  { plan, quantity, everyDays, weekdays, timeZone }: Routine,
  ratio: number,
  now: Date,
): RoutineInput {
  const when = { everyDays, weekdays, startsOn: localDay(now, timeZone), version: 0 };
  switch (plan.work) {
    case 'test':
      return { ...when, work: 'test', quantityCode: quantity?.code ?? '' };
    case 'water_change':
      return { ...when, work: 'water_change', volume: rounded(plan.volumeL * ratio), volumeUnit: 'L' };
    case 'dose':
      return {
        ...when,
        work: 'dose',
        substance: plan.substance,
        amount: rounded(plan.amount * ratio),
        unit: plan.unit,
      };
    case 'feeding':
      return {
        ...when,
        work: 'feeding',
        food: plan.food,
        amountG: plan.amountG,
        tankId: null,
        pumpsOffMin: plan.pumpsOffMin,
      };
  }
}

async function wantsReason(work: Work, system: WaterSystem, input: RoutineInput): Promise<boolean> {
  if (input.work !== 'dose') return false;
  const { substance, amount, unit } = input;
  const dose = { substance, amount, unit, quantityCode: '', rise: null, at: work.now, note: '' };
  const { concerns } = await lookAtDose(work.tx, system, dose, { purpose: 'routine', dailyCap: null });
  return concerns.length > 0;
}
