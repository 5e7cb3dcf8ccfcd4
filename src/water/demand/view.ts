import type pg from 'pg';
import type { Reader } from '../../platform/service.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { caps } from '../dosing/substances.rules.ts';
import { readEstimates, type WaterEstimates } from '../estimates/estimates.ts';
import { listQuantities, type Quantity } from '../quantities/quantities.ts';
import type { WaterSystem } from '../systems/systems.ts';
import { type CalciumRatio, calciumRatio } from './calcium-ratio.rules.ts';
import { demandCodes, readDemand } from './demand.ts';
import { weeklyNitrateRates } from './nitrate-rate.rules.ts';
import { type NutrientEstimate, nitrateNow, phosphateNow } from './nutrient.rules.ts';
import { type WeeklyRate, weeklyRates } from './rate.rules.ts';
import { type DemandShift, demandShift } from './shift.rules.ts';
import {
  type DemandData,
  type LevelJump,
  levelJumpOf,
  type RateNow,
  rateNow,
  type Supply,
  supplyOf,
  usualChange,
  windowDays,
} from './supply.rules.ts';
import { dailyAmountWords, isDosed } from './words.rules.ts';

/** One quantity of one system: the present rate, its history, its change, and what water changes do to the level. */
export interface DemandFigures {
  quantity: Quantity;
  data: DemandData;
  now: RateNow;
  /** Of a nutrient: level, rate and where it leads; null of what is dosed. */
  nutrient: NutrientEstimate | null;
  /** Days that each point of the history rests on. */
  days: number;
  weeks: WeeklyRate[];
  supply: Supply | null;
  jump: LevelJump | null;
  shift: DemandShift | null;
  /** Mean of the readings that the present rate rests on; null without a rate. */
  level: number | null;
}

export interface DemandView {
  figures: DemandFigures[];
  ratio: CalciumRatio | null;
}

/** Weeks of history shown, and days of readings loaded for it: the first point may rest on four windows of 28 days before it. */
const weeksShown = 26;
const daysLoaded = 7 * weeksShown + 4 * 28;
/** Days of readings and doses that the present consumption is worked out from; own choice. */
const consumptionDays = 60;

/** Everything the page and the API say of a system's demand. Seventeen queries. */
export async function readDemandView(
  { db, pool }: { db: Reader; pool: pg.Pool },
  system: WaterSystem,
  now: Date,
): Promise<DemandView> {
  const [quantities, demands, estimatesOf] = await Promise.all([
    listQuantities(db),
    readDemand(pool, [system.id], now, daysLoaded),
    readEstimates(pool, [system.id], now),
  ]);
  const estimates = estimatesOf.get(system.id);
  const nowDay = dayOf(now);
  const dataOf = demands.get(system.id);
  const figures = demandCodes.flatMap((code) => {
    const quantity = quantities.find((one) => one.code === code);
    const data = dataOf?.get(code);
    if (quantity === undefined || data === undefined || estimates === undefined) return [];
    return [figuresOf(quantity, data, estimates, nowDay)];
  });
  const [alkalinity, calcium] = [dataOf?.get('alkalinity'), dataOf?.get('calcium')];
  return { figures, ratio: alkalinity && calcium ? calciumRatio(alkalinity, calcium, nowDay) : null };
}

function figuresOf(
  quantity: Quantity,
  data: DemandData,
  estimates: WaterEstimates,
  nowDay: number,
): DemandFigures {
  const { code } = quantity;
  const days = windowDays[code] ?? 28;
  const nutrient = nutrientOf(code, data, estimates, nowDay);
  const now = nutrient?.rate ?? rateNow(data, code, nowDay);
  const { makeUp } = data.log;
  const level = now.rate?.level ?? null;
  const jump =
    level === null || !isDosed(code)
      ? null
      : levelJumpOf(level, makeUp, usualChange(data.log, nowDay), caps[code].usual);
  return {
    quantity,
    data,
    now,
    days,
    nutrient,
    weeks:
      code === 'nitrate'
        ? weeklyNitrateRates(estimates.nitrate, { nowDay, weeks: weeksShown })
        : weeklyRates(data, { nowDay, days, weeks: weeksShown }),
    supply: now.rate === null ? null : supplyOf(now.rate, makeUp),
    jump,
    shift: code === 'alkalinity' ? demandShift(data, nowDay) : null,
    level,
  };
}

/** What is known of a nutrient; null of what is not one. */
function nutrientOf(
  code: string,
  data: DemandData,
  estimates: WaterEstimates,
  nowDay: number,
): NutrientEstimate | null {
  if (code === 'nitrate') return nitrateNow(estimates, nowDay, data);
  return code === 'phosphate' ? phosphateNow(estimates, data, nowDay) : null;
}

/**
 * The alkalinity that each system uses a day, in words ("used 0.30 dKH a day"), by system; a system is left out where it
 * cannot be told. Six queries.
 */
export async function alkalinityConsumption(
  pool: pg.Pool,
  systemIds: readonly string[],
  quantity: Quantity | undefined,
  now: Date,
): Promise<Map<string, string>> {
  if (quantity === undefined) return new Map();
  const today = dayOf(now);
  const demands = await readDemand(pool, [...systemIds], now, consumptionDays);
  const words = [...demands].flatMap(([systemId, dataOf]) => {
    const data = dataOf.get('alkalinity');
    const rate = data === undefined ? null : rateNow(data, 'alkalinity', today).rate;
    if (rate === null || rate.high >= 0) return [];
    return [[systemId, `used ${dailyAmountWords(quantity, -rate.perDay, rate.level)} a day`] as const];
  });
  return new Map(words);
}
