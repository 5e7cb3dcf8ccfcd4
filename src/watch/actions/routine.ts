import type { Alert } from '../../alerts/alerts.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { localDay } from '../../platform/days.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { routineChangeWords, routineHref } from '../../water/nutrients/plan.rules.ts';
import { evenInterval } from '../../water/routines/routines.rules.ts';
import { changeRoutine, findRoutine, listRoutines, planRoutine } from '../../water/routines/routines.ts';
import { findWaterSystem } from '../../water/systems/systems.ts';
import type { Looking } from './things.ts';

/** The water changes that an alert asks for from now on, as a change of the routine. */
export interface RoutineOffer {
  doing: 'routine';
  /** "Change the routine from 12 % (312 L) every week to 17 % (442 L) every week". */
  change: string;
  /** What a hand asks a manager for. */
  ask: string;
  isManager: boolean;
  /** The form of the routine, filled in, for another amount. */
  href: string;
  routineId: string;
  version: number;
  fraction: number;
  everyDays: number;
}

/** The routine as an alert asks for it; null where it asks for none, has to wait, or the routine has it already. */
export async function routineOffer(
  { db, pool }: Pick<Service, 'db' | 'pool'>,
  { finding, systemId }: Alert,
  { role, now }: Pick<Looking, 'role' | 'now'>,
): Promise<RoutineOffer | null> {
  const { changes, said = [], firstStep } = finding;
  // What has to wait for something else is not offered.
  const isFirst = said.some(({ name, text }) => name.endsWith('.plan') && firstStep.includes(text));
  if (!changes || !isFirst || changes.fraction <= 0) return null;
  const [system, { running }] = await Promise.all([
    findWaterSystem(db, systemId),
    listRoutines(pool, [systemId], now),
  ]);
  const planned = running.find(({ plan }) => plan.work === 'water_change') ?? null;
  const words = routineChangeWords(system, planned, changes);
  if (words.change.startsWith('The routine has it')) return null;
  return {
    doing: 'routine',
    ...words,
    isManager: role !== 'hand',
    href: routineHref(systemId, changes),
    routineId: planned?.id ?? '',
    version: planned?.version ?? 0,
    ...changes,
  };
}

/** Changes the routine of water changes to what the alert asks for, or plans one. @throws Refusal 409 changed meanwhile */
export async function takeOnRoutine(
  work: Work,
  { systemId }: Pick<Alert, 'systemId'>,
  {
    routineId,
    version,
    fraction,
    everyDays,
  }: Pick<RoutineOffer, 'routineId' | 'version' | 'fraction' | 'everyDays'>,
  timeZone: string,
): Promise<void> {
  const volume = { volume: Math.round(fraction * 1000) / 10, volumeUnit: '%' as const };
  const often = evenInterval(everyDays);
  const fresh = { everyDays: often, weekdays: [], startsOn: localDay(work.now, timeZone) };
  if (routineId === '') {
    await planRoutine(work, systemId, { work: 'water_change', ...volume, ...fresh, version });
    return;
  }
  const routine = await findRoutine(readerOf(work.tx), routineId, work.now);
  if (routine.systemId !== systemId || routine.plan.work !== 'water_change')
    throw new Refusal('The routine was changed meanwhile. Open the alert again.', { status: 409 });
  // As often as before: it keeps its days.
  const { weekdays, startsOn } = routine;
  const cadence = routine.everyDays === often ? { everyDays: often, weekdays, startsOn } : fresh;
  await changeRoutine(work, routineId, { work: 'water_change', ...volume, ...cadence, version });
}
