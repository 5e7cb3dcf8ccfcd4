import type pg from 'pg';
import type { SystemQuantity } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { convertDifference } from '../../science/units.ts';
import { lotCare } from '../../stock/kinds/care.ts';
import { demandCodes, readDemand } from '../demand/demand.ts';
import { demandDay } from '../demand/demand-record.rules.ts';
import { type NutrientEstimate, nitrateNow, phosphateNow } from '../demand/nutrient.rules.ts';
import { silentDays } from '../demand/silence.rules.ts';
import type { DemandData } from '../demand/supply.rules.ts';
import { readEstimates } from '../estimates/estimates.ts';
import { listQuantities, type Quantity } from '../quantities/quantities.ts';
import { type LatestReading, latestReadings } from '../readings/series.ts';
import { listRoutines, type Routine } from '../routines/routines.ts';
import { openAlertsOf, type SystemAlert } from '../systems/open-alerts.ts';
import type { WaterSystem } from '../systems/systems.ts';
import { listTargets } from '../targets/targets.ts';
import type { NutrientCode } from './codes.ts';
import { type MixingLevels, mixingLevels } from './mixing.rules.ts';
import type { KindWish } from './target.rules.ts';

/** What a plan for a nutrient starts from. */
export interface NutrientView {
  quantity: Quantity;
  demand: DemandData;
  estimate: NutrientEstimate;
  /** Levels that a water change moves besides, here and in the new water. */
  mixing: MixingLevels;
  targets: Map<string, SystemQuantity>;
  latest: Map<string, LatestReading>;
  quantities: Quantity[];
  /** Open alerts about this nutrient in this system. */
  alerts: SystemAlert[];
  /** The water change that is planned now. */
  routine: Routine | null;
  /** Days since the last test, where that is so long ago that nobody knows the level of today; else null. */
  silentDays: number | null;
  /** What the care of the lots there asks of it. */
  living: KindWish[];
}

const livingQuery = `
  SELECT DISTINCT lot.id AS "lotId", kind.name AS kind
    FROM lot_place JOIN lot ON lot.id = lot_place.lot_id JOIN kind ON kind.id = lot.kind_id
   WHERE lot_place.system_id = $1::uuid`;

/** What the care of each lot that stands in a system asks of a nutrient. Five queries. */
async function wishesOfStock(pool: pg.Pool, systemId: string, code: NutrientCode): Promise<KindWish[]> {
  const [lots, care] = await Promise.all([
    pool.query<{ lotId: string; kind: string }>(livingQuery, [systemId]),
    lotCare(pool, { systemId }),
  ]);
  return lots.rows.map(({ lotId, kind }) => {
    const { low = null, high = null } = care.get(lotId)?.[code] ?? {};
    return { kind, low, high };
  });
}

/** Reads what a plan starts from. About 25 queries. */
export async function readNutrient(
  { db, pool }: { db: Reader; pool: pg.Pool },
  system: WaterSystem,
  code: NutrientCode,
  now: Date,
): Promise<NutrientView> {
  const ids = [system.id];
  const [quantities, estimatesOf, targets, latest, alerts, routines, living] = await Promise.all([
    listQuantities(db),
    readEstimates(pool, ids, now, [...demandCodes, 'salinity']),
    listTargets(db, system.id),
    latestReadings(pool, ids),
    openAlertsOf(pool, ids, now),
    listRoutines(pool, ids, now),
    wishesOfStock(pool, system.id, code),
  ]);
  const quantity = quantities.find((one) => one.code === code);
  const demand = (await readDemand(pool, estimatesOf, now)).get(system.id)?.get(code);
  const estimates = estimatesOf.get(system.id);
  if (quantity === undefined || demand === undefined || estimates === undefined)
    throw new Error('there are no quantities; load the care library');
  const today = demandDay(estimates.record, code, now);
  return {
    quantity,
    demand,
    estimate:
      code === 'nitrate' ? nitrateNow(estimates, today, demand) : phosphateNow(estimates, demand, today),
    mixing: mixingLevels(estimates.record),
    targets,
    latest: latest.get(system.id) ?? new Map(),
    quantities,
    alerts: alerts.filter(({ rule }) => rule.startsWith(code)),
    silentDays: silentDays(demand, dayOf(now)),
    living,
    routine: routines.running.find(({ plan }) => plan.work === 'water_change') ?? null,
  };
}

/** An amount a day typed in the farm's unit, in the canonical unit. */
export const toCanonicalPerDay = ({ code, displayUnit, canonicalUnit }: Quantity, typed: number): number =>
  convertDifference(code, typed, displayUnit, canonicalUnit);
