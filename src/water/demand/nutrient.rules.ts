import type { WaterEstimates } from '../estimates/estimates.ts';
import { beyondTest } from '../estimates/last-test.rules.ts';
import { nitrateRate } from './nitrate-rate.rules.ts';
import { isBetween } from './rate.rules.ts';
import { type DemandData, type RateNow, rateNow } from './supply.rules.ts';

/** What is known of a nutrient today, for alerts, pages, letters and files alike; canonical units, days. */
export interface NutrientEstimate {
  /** Null where it was never read; `below`: the last test only says that it is less than this. */
  level: { value: number; sd: number; below?: number } | null;
  /** What is made a day, or why that is not known. */
  rate: RateNow;
  /** Covariance of level and rate. */
  cov: number;
  makeUp: number;
  /** Rate of exchange by the habit of water changes: the mean of -ln(1 - part) a day. */
  exchange: number;
  /** Level that the habit leads to; null where it goes on rising, or what is made is not known. */
  settlesAt: number | null;
  /** The system's own level, that of the months before; null where it is not known. */
  own: number | null;
}

type Estimates = Pick<WaterEstimates, 'habit' | 'nitrate'>;

/**
 * Nitrate, by the filter that the watch goes by.
 *
 * @param data what production is worked out from where no change is logged, but somebody says that none is made
 */
export function nitrateNow(
  { habit, nitrate }: Estimates,
  nowDay: number,
  data: DemandData | null = null,
  readings: readonly Read[] = data?.readings ?? [],
): NutrientEstimate {
  const { state = null, settles = null } = nitrate ?? {};
  const followed = data === null || nitrate?.knowsProduction === true;
  return {
    level:
      state === null ? null : { value: state.level, sd: state.levelSd, ...boundOn(state.level, readings) },
    rate: followed ? nitrateRate(nitrate, nowDay) : rateNow(data, 'nitrate', nowDay),
    cov: state?.levelProductionCov ?? 0,
    makeUp: state?.habit.makeUp ?? 0,
    exchange: habit.exchange,
    settlesAt: settles?.value ?? null,
    own: state?.own?.level ?? null,
  };
}

/**
 * Phosphate, by the balance of the last weeks: rock and sand hold and give it back, which no filter of ours was tuned for.
 * Today's level is the fit at the last reading, no further off it than its error, carried on through the changes since.
 */
export function phosphateNow({ habit }: Estimates, data: DemandData, nowDay: number): NutrientEstimate {
  const rate = rateNow(data, 'phosphate', nowDay);
  const makeUp = data.log.makeUp ?? 0;
  const { exchange } = habit;
  const known = { rate, makeUp, exchange, own: null };
  if (rate.rate === null) return { ...known, level: lastLevel(data), cov: 0, settlesAt: null };
  const { perDay, toDay, last } = rate.rate;
  const since = data.log.changes.filter(isBetween(toDay, nowDay));
  const tested = lastTestOf(data, toDay);
  const at = last.level - (tested === undefined ? 0 : beyondTest(last.level, tested));
  const { level, days } = since.reduce(
    (before, { fraction }) => ({
      level: before.level * (1 - fraction) + makeUp * fraction,
      days: before.days * (1 - fraction),
    }),
    { level: at, days: nowDay - toDay },
  );
  return {
    ...known,
    level: {
      value: Math.max(0, level + days * perDay),
      sd: last.sd,
      ...boundOn(level + days * perDay, data.readings),
    },
    cov: last.cov,
    settlesAt: exchange > 0 ? Math.max(0, makeUp + perDay / exchange) : null,
  };
}

type Read = Pick<DemandData['readings'][number], 'value' | 'below' | 'trust'>;

/** The bound that the last test gives, where the level lies under it: then nobody knows where under it. */
function boundOn(level: number, readings: readonly Read[]): { below?: number } {
  const last = readings.findLast(({ trust }) => trust !== 'refuted');
  return last?.below === true && level <= last.value ? { below: last.value } : {};
}

/** The last test that the rate uses. */
const lastTestOf = ({ readings }: DemandData, toDay: number) =>
  readings
    .filter(({ day, below, trust, suspect }) => day <= toDay && !below && !suspect && isRelied(trust))
    .map(({ value, u, trust }) => ({ value, u, confirmed: trust === 'confirmed' }))
    .at(-1);

const isRelied = (trust: string): boolean => trust === 'plain' || trust === 'confirmed';

/**
 * The last reading alone. Below detection the level is half the limit, with the standard deviation of an even
 * distribution from 0 to the limit (GUM 4.3.7).
 */
function lastLevel({ readings }: DemandData): NutrientEstimate['level'] {
  const last = readings.findLast(({ trust }) => trust !== 'refuted');
  if (last === undefined) return null;
  return last.below
    ? { value: last.value / 2, sd: last.value / Math.sqrt(12), below: last.value }
    : { value: last.value, sd: last.u };
}
