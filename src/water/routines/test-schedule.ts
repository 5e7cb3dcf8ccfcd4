import type pg from 'pg';
import type { Reader } from '../../platform/service.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { demandCodes, readDemand } from '../demand/demand.ts';
import { demandDay } from '../demand/demand-record.rules.ts';
import { rateNow } from '../demand/supply.rules.ts';
import { readEstimates } from '../estimates/estimates.ts';
import { listQuantities, type Quantity } from '../quantities/quantities.ts';
import type { WaterSystem } from '../systems/systems.ts';
import type { Routine } from './routines.ts';
import {
  byHand,
  isDosedWithAlkalinity,
  type NotWeighed,
  type WeighedTests,
  weighedCodes,
  weighTests,
} from './test-schedule.rules.ts';

/** One quantity's tests as they are weighed, with the routine that plans them. */
export interface ScheduledTest {
  quantity: Quantity;
  routine: Routine | null;
  weighed: WeighedTests | NotWeighed;
}

/**
 * How often each quantity of a system is worth testing, beside the routines that run. A quantity that is neither planned nor
 * kept within a band is left out. Thirteen queries.
 */
export async function readTestSchedule(
  { db, pool }: { db: Reader; pool: pg.Pool },
  system: Pick<WaterSystem, 'id'>,
  running: readonly Routine[],
  now: Date,
): Promise<ScheduledTest[]> {
  const [quantities, estimatesOf] = await Promise.all([
    listQuantities(db),
    readEstimates(pool, [system.id], now, [...demandCodes, 'salinity']),
  ]);
  const estimates = estimatesOf.get(system.id);
  if (estimates === undefined) return [];
  const demand = (await readDemand(pool, estimatesOf, now)).get(system.id);
  const { record } = estimates;
  return weighedCodes.flatMap((code) => {
    const quantity = quantities.find((one) => one.code === code);
    const routine = running.find(({ plan }) => plan.work === 'test' && plan.quantityCode === code) ?? null;
    const kept = record.kept.get(code);
    const isKept = (kept?.bandLow ?? kept?.bandHigh ?? null) !== null;
    if (quantity === undefined || (routine === null && !isKept)) return [];
    const data = demandCodes.some((one) => one === code) ? demand?.get(code as 'alkalinity') : undefined;
    const readings = record.readings.get(code) ?? [];
    const tested = {
      ...{ code, kept, everyDays: routine?.everyDays ?? null },
      ...{ plausibleLow: quantity.plausibleLow, plausibleHigh: quantity.plausibleHigh },
      readings: byHand(readings),
      hasProbe: readings.length > byHand(readings).length && readings.at(-1)?.probe === true,
      dosedWithAlkalinity: isDosedWithAlkalinity(record.doses, code, dayOf(now)),
      rate: data === undefined ? null : rateNow(data, code, demandDay(record, code, now)),
    };
    return { quantity, routine, weighed: weighTests(tested) };
  });
}
