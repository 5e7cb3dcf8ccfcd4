import type pg from 'pg';
import type { SystemQuantity } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { convertDifference } from '../../science/units.ts';
import { readDemand } from '../demand/demand.ts';
import { isBetween } from '../demand/rate.rules.ts';
import {
  type DemandData,
  type LevelJump,
  levelJumpOf,
  type RateNow,
  rateNow,
  recentDays,
} from '../demand/supply.rules.ts';
import { lowerMedian } from '../demand/usable-readings.rules.ts';
import { type Correctable, caps } from '../dosing/substances.rules.ts';
import { listQuantities, type Quantity } from '../quantities/quantities.ts';
import { type LatestReading, latestReadings } from '../readings/series.ts';
import { openAlertsOf, type SystemAlert } from '../systems/open-alerts.ts';
import type { WaterSystem } from '../systems/systems.ts';
import { listTargets } from '../targets/targets.ts';
import type { ChangeSchedule, NutrientState } from './projection.rules.ts';

/** The nutrients that can be planned. */
export const nutrientCodes = ['nitrate', 'phosphate'] as const;
export type NutrientCode = (typeof nutrientCodes)[number];

/** What a plan for a nutrient starts from. */
export interface NutrientView {
  quantity: Quantity;
  demand: DemandData;
  rate: RateNow;
  /** Null where the level was never read; production 0 where it cannot be told. */
  state: NutrientState | null;
  /** The water changes of the last 90 days. */
  recentChanges: ChangeSchedule;
  targets: Map<string, SystemQuantity>;
  latest: Map<string, LatestReading>;
  quantities: Quantity[];
  /** Open alerts about this nutrient in this system. */
  alerts: SystemAlert[];
}

/** Days of readings loaded: the present rate looks back over up to four windows of 28 days. */
const daysLoaded = 120;

/** Reads what a plan starts from. Ten queries. */
export async function readNutrient(
  { db, pool }: { db: Reader; pool: pg.Pool },
  system: WaterSystem,
  code: NutrientCode,
  now: Date,
): Promise<NutrientView> {
  const [quantities, demands, targets, latest, alerts] = await Promise.all([
    listQuantities(db),
    readDemand(pool, [system.id], now, daysLoaded),
    listTargets(db, system.id),
    latestReadings(pool, [system.id]),
    openAlertsOf(pool, [system.id], now),
  ]);
  const quantity = quantities.find((one) => one.code === code);
  const demand = demands.get(system.id)?.get(code);
  if (quantity === undefined || demand === undefined)
    throw new Error('there are no quantities; load the care library');
  const nowDay = dayOf(now);
  const rate = rateNow(demand, code, nowDay);
  return {
    quantity,
    demand,
    rate,
    state: stateOf(demand, rate, nowDay),
    recentChanges: recentSchedule(demand, nowDay),
    targets,
    latest: latest.get(system.id) ?? new Map(),
    quantities,
    alerts: alerts.filter(({ rule }) => rule.startsWith(code)),
  };
}

/** Today's level and production: the fit at the last reading, carried on through the changes since. */
function stateOf(demand: DemandData, { rate }: RateNow, nowDay: number): NutrientState | null {
  const makeUp = demand.log.makeUp ?? 0;
  if (rate === null) return stateWithoutRate(demand, makeUp);
  const since = demand.log.changes.filter(isBetween(rate.toDay, nowDay));
  const { level, days } = since.reduce(
    (at, { fraction }) => ({
      level: at.level * (1 - fraction) + makeUp * fraction,
      days: at.days * (1 - fraction),
    }),
    { level: rate.last.level, days: nowDay - rate.toDay },
  );
  return {
    level: Math.max(0, level + days * rate.perDay),
    levelSd: rate.last.sd,
    production: rate.perDay,
    productionSd: rate.sd,
    cov: rate.last.cov,
    makeUp,
  };
}

/**
 * The last reading alone; production is not known, so a plan shows exports only. Below detection the level is half the
 * limit, with the standard deviation of an even distribution from 0 to the limit (GUM 4.3.7).
 */
function stateWithoutRate({ readings }: DemandData, makeUp: number): NutrientState | null {
  const last = readings.findLast(({ trust }) => trust !== 'refuted');
  if (last === undefined) return null;
  const level = last.below ? last.value / 2 : last.value;
  const levelSd = last.below ? last.value / Math.sqrt(12) : last.u;
  return { level, levelSd, production: 0, productionSd: 0, cov: 0, makeUp };
}

/** The usual size and interval of the last 90 days' changes, without those of corrections; 0 % a week where none is logged. */
function recentSchedule({ log }: DemandData, nowDay: number): ChangeSchedule {
  const recent = log.changes.filter(isBetween(nowDay - recentDays, nowDay)).filter(({ once }) => !once);
  const fraction = lowerMedian(recent.map((change) => change.fraction)) ?? 0;
  const gap = lowerMedian(recent.slice(1).map(({ day }, i) => day - (recent[i]?.day ?? day))) ?? 7;
  return { fraction: Math.round(fraction * 100) / 100, everyDays: Math.max(0.5, Math.round(gap * 2) / 2) };
}

/** What a change of this size does to alkalinity and salinity at once, where that is more than may happen in a day. */
export function levelJumpsOf(
  { latest, targets }: NutrientView,
  fraction: number,
): { code: Correctable; jump: LevelJump; level: number; makeUp: number }[] {
  return (['alkalinity', 'salinity'] as const).flatMap((code) => {
    const level = latest.get(code)?.value;
    const makeUp = targets.get(code)?.makeUp ?? null;
    if (level === undefined || makeUp === null) return [];
    const jump = levelJumpOf(level, makeUp, fraction, caps[code].usual);
    return jump === null ? [] : [{ code, jump, level, makeUp }];
  });
}

/** The largest change, as a part of the water, that moves alkalinity and salinity no further than may happen in a day. */
export function largestSafeChange({ latest, targets }: NutrientView): number {
  return (['alkalinity', 'salinity'] as const).reduce((least, code) => {
    const level = latest.get(code)?.value;
    const makeUp = targets.get(code)?.makeUp ?? null;
    if (level === undefined || makeUp === null || makeUp === level) return least;
    return Math.min(least, caps[code].usual / Math.abs(makeUp - level));
  }, 1);
}

/** An amount a day typed in the farm's unit, in the canonical unit. */
export const toCanonicalPerDay = ({ code, displayUnit, canonicalUnit }: Quantity, typed: number): number =>
  convertDifference(code, typed, displayUnit, canonicalUnit);
