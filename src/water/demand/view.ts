import type pg from 'pg';
import type { Reader } from '../../platform/service.ts';
import type { Figure } from '../../platform/words/figures.ts';
import { caps } from '../dosing/substances.rules.ts';
import { readEstimates, type WaterEstimates } from '../estimates/estimates.ts';
import { listQuantities, type Quantity } from '../quantities/quantities.ts';
import type { WaterSystem } from '../systems/systems.ts';
import { type CalciumRatio, calciumRatio } from './calcium-ratio.rules.ts';
import { demandCodes, readDemand } from './demand.ts';
import { demandDay } from './demand-record.rules.ts';
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
import { lowerMedian } from './usable-readings.rules.ts';
import { isDosed, useFigure } from './words.rules.ts';

/** One quantity of one system: the present rate, its history, its change, and what water changes do to the level. */
export interface DemandFigures {
  quantity: Quantity;
  data: DemandData;
  /** The day that it is worked out for. */
  today: number;
  now: RateNow;
  /** Of a nutrient: level, rate and where it leads; null of what is dosed. */
  nutrient: NutrientEstimate | null;
  /** Days that each point of the history is from. */
  days: number;
  weeks: WeeklyRate[];
  supply: Supply | null;
  jump: LevelJump | null;
  shift: DemandShift | null;
  /** What was used a day before the days of the present rate; null where that is not known. */
  before: number | null;
  /** Mean of the readings that the present rate uses; null without a rate. */
  level: number | null;
}

export interface DemandView {
  figures: DemandFigures[];
  ratio: CalciumRatio | null;
}

/** Weeks of history shown. */
const weeksShown = 26;
/** Weeks before the present rate that say what was used before; own choice. */
const earlierWeeks = 8;

/** Everything the page and the API say of a system's demand. Twelve queries. */
export async function readDemandView(
  { db, pool }: { db: Reader; pool: pg.Pool },
  system: WaterSystem,
  now: Date,
): Promise<DemandView> {
  const [quantities, estimatesOf] = await Promise.all([
    listQuantities(db),
    readEstimates(pool, [system.id], now, demandCodes),
  ]);
  const estimates = estimatesOf.get(system.id);
  const dataOf = (await readDemand(pool, estimatesOf, now)).get(system.id);
  const figures = demandCodes.flatMap((code) => {
    const quantity = quantities.find((one) => one.code === code);
    const data = dataOf?.get(code);
    if (quantity === undefined || data === undefined || estimates === undefined) return [];
    return [figuresOf(quantity, data, estimates, demandDay(estimates.record, code, now))];
  });
  const [alkalinity, calcium] = [dataOf?.get('alkalinity'), dataOf?.get('calcium')];
  if (!alkalinity || !calcium || estimates === undefined) return { figures, ratio: null };
  const ratioDay = demandDay(estimates.record, 'calcium', now);
  return { figures, ratio: calciumRatio(alkalinity, calcium, ratioDay) };
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
  const weeks =
    code === 'nitrate'
      ? weeklyNitrateRates(estimates.nitrate, { nowDay, weeks: weeksShown })
      : weeklyRates(data, { nowDay, days, weeks: weeksShown });
  const since = now.rate?.fromDay ?? nowDay;
  const earlier = weeks.flatMap(({ day, rate }) => (rate === null || day > since ? [] : [-rate.perDay]));
  return {
    quantity,
    data,
    today: nowDay,
    now,
    days,
    nutrient,
    weeks,
    before: lowerMedian(earlier.slice(-earlierWeeks)),
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
 * The alkalinity that each system uses a day, in words ("used 0.30 dKH a day (0.25 to 0.35)"), by system; a system is left
 * out where it cannot be told. Eleven queries.
 */
export async function alkalinityConsumption(
  pool: pg.Pool,
  systemIds: readonly string[],
  quantity: Quantity | undefined,
  now: Date,
): Promise<Map<string, { text: string; figures: Figure[] }>> {
  if (quantity === undefined) return new Map();
  const estimates = await readEstimates(pool, systemIds, now, ['alkalinity']);
  const demands = await readDemand(pool, estimates, now);
  const words = [...estimates].flatMap(([systemId, { record }]) => {
    const data = demands.get(systemId)?.get('alkalinity');
    const day = demandDay(record, 'alkalinity', now);
    const rate = data === undefined ? null : rateNow(data, 'alkalinity', day).rate;
    if (data === undefined || rate === null || rate.high >= 0) return [];
    const figure = useFigure(quantity, systemId, rate, data);
    return [
      [systemId, { text: figure.text, figures: [figure] }] as [string, { text: string; figures: Figure[] }],
    ];
  });
  return new Map(words);
}
