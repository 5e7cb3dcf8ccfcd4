import { inRange, notNegative } from '../numeric/range.ts';
import { normalTail } from '../statistics/normal.ts';
import { type Estimate, predict } from './estimate.ts';
import { NITRATE_DEFAULTS, type NitrateOptions, type NitrateState } from './nitrate-types.ts';

/** A value with its standard deviation, in the readings' unit. */
export interface Forecast {
  value: number;
  sd: number;
}

/** What a forecast takes instead of the present habit or production. */
export interface Assumption {
  /** Rate of exchange a day. */
  exchange?: number;
  /** Net production a day. */
  production?: number;
}

/**
 * The level in `days` (0 to 365) if production and the habit of changes stay as they are:
 * F = a N + (1 - a)(P + lambda s + d)/lambda with a = exp(-days lambda), averaged over the saw-tooth; never below 0.
 * `sd` is that of what is known now (level and production), without what will still happen.
 */
export function forecastNitrate(state: NitrateState, days = 60, assume: Assumption = {}): Forecast {
  inRange(days, 0, 365, 'days ahead', 'd');
  const { exchange, inflow } = flows(state, assume);
  const a = Math.exp(-days * exchange);
  const gain = reach(exchange, days);
  const variance =
    (a * state.levelSd) ** 2 + 2 * a * gain * state.levelProductionCov + (gain * state.productionSd) ** 2;
  return { value: Math.max(0, a * state.level + gain * inflow), sd: Math.sqrt(Math.max(0, variance)) };
}

/**
 * The level to which the present habit tends, (P + lambda s + d)/lambda; null when no exchange is logged, since
 * then it tends nowhere. Never below 0.
 */
export function settledNitrate(state: NitrateState, assume: Assumption = {}): Forecast | null {
  const { exchange, inflow } = flows(state, assume);
  if (exchange <= 0) return null;
  return { value: Math.max(0, inflow / exchange), sd: state.productionSd / exchange };
}

/**
 * The forecast over `days`, less `caution` of its SD (0.84: four in five), over the system's own level; null before
 * there is an own level. The creep rule compares it with 1.3.
 */
export function nitrateRise(state: NitrateState, days = 60, caution = 0.84): number | null {
  if (!state.own || state.own.level <= 0) return null;
  const { value, sd } = forecastNitrate(state, days);
  return Math.max(0, value - caution * sd) / state.own.level;
}

/** Why a forecast stands above the own level: how much of it each change alone explains. */
export interface RiseReason {
  /** Rise of the forecast by the production's change since the own mean, at the own habit. */
  byProduction: number;
  /** Rise of the forecast by the exchange's change since the own mean, at the own production. */
  byExchange: number;
  main: 'more production' | 'fewer changes' | 'both' | 'neither';
}

/**
 * Parts the rise of the 60-day forecast into more production and fewer changes, by putting each back to its own
 * mean. `main` is the one that explains at least twice the other; 'neither' when none raises it.
 */
export function explainNitrateRise(state: NitrateState, days = 60): RiseReason | null {
  if (!state.own) return null;
  const { exchange, production } = state.own;
  const usual = forecastNitrate(state, days, { exchange, production }).value;
  const byProduction = forecastNitrate(state, days, { exchange }).value - usual;
  const byExchange = forecastNitrate(state, days, { production }).value - usual;
  return { byProduction, byExchange, main: mainReason(byProduction, byExchange) };
}

/**
 * Probability that the level stands above `limit` on the day within `days` (1 to 365) on which that is likeliest,
 * at the present habit: with what is not known now and what the level and production may still do by themselves.
 * A lower bound of the probability of passing it at any time.
 */
export function probabilityAbove(
  state: NitrateState,
  limit: number,
  days = 60,
  options: Partial<NitrateOptions> = {},
): number {
  notNegative(limit, 'limit');
  inRange(days, 1, 365, 'days ahead', 'd');
  return Math.max(...levelsAhead(state, days, options).map((ahead) => chanceAbove(ahead, limit)));
}

/**
 * The level on each day from today (0) to `days` ahead (1 to 365) at the present habit and production: value, never below 0,
 * and SD with what is not known now and what level and production may still do by themselves.
 */
export function nitrateAhead(
  state: NitrateState,
  days: number,
  options: Partial<NitrateOptions> = {},
): Forecast[] {
  inRange(days, 1, 365, 'days ahead', 'd');
  return levelsAhead(state, days, options).map(({ mean, cov }) => ({
    value: Math.max(0, mean[0] ?? 0),
    sd: Math.sqrt(Math.max(0, cov[0]?.[0] ?? 0)),
  }));
}

function levelsAhead(state: NitrateState, days: number, options: Partial<NitrateOptions>): Estimate[] {
  const { levelNoise, productionNoise, smallLevel } = { ...NITRATE_DEFAULTS, ...options };
  const { exchange, inflow } = flows(state, {});
  const [a, gain] = [Math.exp(-exchange), reach(exchange, 1)];
  const varP = (productionNoise * Math.max(state.own?.level ?? state.level, smallLevel)) ** 2;
  const ahead = [levelAndInflow(state, inflow)];
  for (let day = 1; day <= days; day++) {
    const before = ahead[day - 1] ?? levelAndInflow(state, inflow);
    const varN = (levelNoise * Math.max(before.mean[0] ?? 0, smallLevel)) ** 2;
    ahead.push(
      predict(
        before,
        [
          [a, gain],
          [0, 1],
        ],
        [
          [varN, 0],
          [0, varP],
        ],
      ),
    );
  }
  return ahead;
}

/**
 * Days until the level reaches `limit` at the present habit: 0 when it is there already, null when it settles
 * below (or above, when falling).
 */
export function daysToNitrate(state: NitrateState, limit: number): number | null {
  notNegative(limit, 'limit');
  const { exchange, inflow } = flows(state, {});
  const gap = limit - state.level;
  if (gap === 0) return 0;
  const slope = inflow - exchange * state.level;
  if (slope === 0 || Math.sign(slope) !== Math.sign(gap)) return null;
  // N(t) = N + slope (1 - exp(-lambda t))/lambda
  const share = (exchange * gap) / slope;
  if (share >= 1) return null;
  return exchange > 0 ? -Math.log1p(-share) / exchange : gap / slope;
}

/** Rate of exchange, and what comes in a day besides: production, make-up water's content, additions. */
function flows(
  { habit, production }: NitrateState,
  assume: Assumption,
): { exchange: number; inflow: number } {
  const exchange = notNegative(assume.exchange ?? habit.exchange, 'exchange', '1/d');
  return { exchange, inflow: (assume.production ?? production) + exchange * habit.makeUp + habit.addition };
}

/** (1 - exp(-lambda t))/lambda: how much of a steady inflow stands in the water after t days. */
function reach(exchange: number, days: number): number {
  return exchange > 1e-9 ? -Math.expm1(-exchange * days) / exchange : days;
}

function levelAndInflow(state: NitrateState, inflow: number): Estimate {
  return {
    mean: [state.level, inflow],
    cov: [
      [state.levelSd ** 2, state.levelProductionCov],
      [state.levelProductionCov, state.productionSd ** 2],
    ],
  };
}

function chanceAbove({ mean, cov }: Estimate, limit: number): number {
  const sd = Math.sqrt(cov[0]?.[0] ?? 0);
  return sd > 0 ? normalTail((limit - (mean[0] ?? 0)) / sd) : Number((mean[0] ?? 0) > limit);
}

function mainReason(production: number, exchange: number): RiseReason['main'] {
  if (production <= 0 && exchange <= 0) return 'neither';
  if (production >= 2 * exchange) return 'more production';
  return exchange >= 2 * production ? 'fewer changes' : 'both';
}
