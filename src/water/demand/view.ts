import type pg from 'pg';
import type { Reader } from '../../platform/service.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { caps } from '../dosing/substances.rules.ts';
import { listQuantities, type Quantity } from '../quantities/quantities.ts';
import type { WaterSystem } from '../systems/systems.ts';
import { type CalciumRatio, calciumRatio, doseRelativeSd } from './calcium-ratio.rules.ts';
import { demandCodes, readDemand } from './demand.ts';
import { type RateAt, weeklyRates } from './rate.rules.ts';
import { type DemandShift, demandShift } from './shift.rules.ts';
import {
  type DemandPart,
  type MixStep,
  mixStep,
  type RateNow,
  rateNow,
  type Supply,
  supplyOf,
  usualChange,
  windowDays,
} from './supply.rules.ts';
import { isDosed, sayADay } from './words.rules.ts';

/** One quantity of one system: now, over the weeks, against its past, and what water changes do to it. */
export interface DemandFigures {
  quantity: Quantity;
  part: DemandPart;
  now: RateNow;
  /** Days each week of the history rests on. */
  days: number;
  weeks: RateAt[];
  supply: Supply | null;
  mix: MixStep | null;
  shift: DemandShift | null;
  /** Mean of the readings of late; null without any. */
  level: number | null;
}

export interface DemandView {
  figures: DemandFigures[];
  ratio: CalciumRatio | null;
}

/** Weeks that the history shows, and days that its readings reach back. */
const weeksShown = 26;
const daysRead = 7 * weeksShown + 112;

/** Everything the page and the API say of a system's demand. */
export async function readDemandView(
  { db, pool }: { db: Reader; pool: pg.Pool },
  system: WaterSystem,
  now: Date,
): Promise<DemandView> {
  const [quantities, demands] = await Promise.all([
    listQuantities(db),
    readDemand(pool, [system.id], now, daysRead),
  ]);
  const nowDay = dayOf(now);
  const parts = demands.get(system.id);
  const figures = demandCodes.flatMap((code) => {
    const quantity = quantities.find((one) => one.code === code);
    const part = parts?.get(code);
    return quantity === undefined || part === undefined ? [] : [figuresOf(quantity, part, nowDay)];
  });
  const [alkalinity, calcium] = [parts?.get('alkalinity'), parts?.get('calcium')];
  return { figures, ratio: alkalinity && calcium ? calciumRatio(alkalinity, calcium, nowDay) : null };
}

function figuresOf(quantity: Quantity, part: DemandPart, nowDay: number): DemandFigures {
  const { code } = quantity;
  const days = windowDays[code] ?? 28;
  const now = rateNow(part, code, nowDay);
  const { makeUp } = part.log;
  const level = now.rate?.level ?? null;
  const mix =
    level === null || !isDosed(code)
      ? null
      : mixStep(level, makeUp, usualChange(part.log, nowDay), caps[code].usual);
  return {
    quantity,
    part,
    now,
    days,
    weeks: weeklyRates(part.readings, part.log, { nowDay, days, weeks: weeksShown, doseRelativeSd }),
    supply: now.rate === null ? null : supplyOf(now.rate, makeUp),
    mix,
    shift: code === 'alkalinity' ? demandShift(part.readings, part.log, nowDay) : null,
    level,
  };
}

/** Days of readings and doses that a use of today is worked out from. */
const usageDays = 60;

/** What each system uses of alkalinity a day, in words ("used 0.30 dKH a day"); none where it cannot be told. Six queries. */
export async function alkalinityUses(
  pool: pg.Pool,
  systemIds: readonly string[],
  quantity: Quantity | undefined,
  now: Date,
): Promise<Map<string, string>> {
  if (quantity === undefined) return new Map();
  const today = dayOf(now);
  const demands = await readDemand(pool, [...systemIds], now, usageDays);
  const words = [...demands].flatMap(([systemId, parts]) => {
    const part = parts.get('alkalinity');
    const rate = part === undefined ? null : rateNow(part, 'alkalinity', today).rate;
    if (rate === null || rate.high >= 0) return [];
    return [[systemId, `used ${sayADay(quantity, -rate.perDay, rate.level)} a day`] as const];
  });
  return new Map(words);
}
