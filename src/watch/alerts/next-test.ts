import type pg from 'pg';
import { addDays, localDay } from '../../platform/days.ts';
import { listRoutines } from '../../water/routines/routines.ts';

/**
 * The day on whose morning an alert comes back that is put off until the next test: the day after the routine's next test
 * of the quantity; null where none is planned.
 */
export async function nextTestDay(
  pool: pg.Pool,
  systemId: string,
  quantityCode: string | null,
  { timeZone, now }: { timeZone: string; now: Date },
): Promise<string | null> {
  if (quantityCode === null) return null;
  const { running } = await listRoutines(pool, [systemId], now);
  const test = running.find(({ plan }) => plan.work === 'test' && plan.quantityCode === quantityCode);
  if (test === undefined) return null;
  const [latest = test.dueOn] = [test.dueOn, localDay(now, timeZone)].sort().reverse();
  return addDays(latest, 1);
}
