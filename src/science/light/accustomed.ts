import { finite, inRange, notNegative } from '../numeric/range.ts';

/** From `fromDay` on the lot received `dailyLight`, until the next piece begins. */
export interface LightPiece {
  /** Days on any one clock, e.g. milliseconds since 1970 / 86,400,000. */
  readonly fromDay: number;
  /** Daily light integral, mol/m2/day. */
  readonly dailyLight: number;
}

/**
 * The daily light (mol/m2/day) that a lot is accustomed to at `atDay`: first-order adaptation to what it has
 * received, dA/dt = (L - A) / T, solved exactly from event to event. After one time constant 63 % of a change is
 * adapted to, after three 95 %.
 *
 * @param history pieces of constant daily light, `fromDay` never falling; the last one goes on
 * @param timeConstantDays T, 0.1 to 365
 * @param startDailyLight what the lot was accustomed to when the first piece began
 * @param atDay not before the first piece
 * @returns a value between the lowest and the highest of the start and the pieces; the start value when there
 * is no piece
 * Error: the model, not the arithmetic. Photosynthetic measures settle in 3 to 21 days depending on the species
 * (PLoS ONE 13 (2018) e0203882; J. Exp. Biol. 222 (2019) jeb195982); ten days is common practice.
 */
export function accustomedLight(
  history: readonly LightPiece[],
  timeConstantDays: number,
  startDailyLight: number,
  atDay: number,
): number {
  return accustomedAt(history, timeConstantDays, startDailyLight, [atDay])[0] as number;
}

/** {@link accustomedLight} at several times, which must not fall: one pass over history and times. */
export function accustomedAt(
  history: readonly LightPiece[],
  timeConstantDays: number,
  startDailyLight: number,
  days: readonly number[],
): number[] {
  inRange(timeConstantDays, 0.1, 365, 'time constant', 'd');
  let accustomed = notNegative(startDailyLight, 'accustomed light at the start', 'mol/m2/d');
  let since = finite(history[0]?.fromDay ?? 0, 'start of the light history', 'd');
  let light = accustomed;
  let next = 0;
  const advance = (day: number) => {
    accustomed = adapted(accustomed, light, day - since, timeConstantDays);
    since = day;
  };
  return days.map((day) => {
    finite(day, 'time of the accustomed light', 'd');
    for (let piece = history[next]; piece && piece.fromDay <= day; piece = history[next]) {
      if (!(piece.fromDay >= since))
        throw new RangeError(`the light history must be in order of time: ${since}, ${piece.fromDay} d`);
      advance(piece.fromDay);
      light = notNegative(piece.dailyLight, 'daily light', 'mol/m2/d');
      next += 1;
    }
    if (history.length > 0 && day < since)
      throw new RangeError(`${day} d is before ${since} d, where the history stands`);
    if (history.length > 0) advance(day);
    return accustomed;
  });
}

/**
 * Days in constant daily light until the accustomed light is within `share` (above 0, below 1) of it: 0.05 for
 * within 5 %. Zero when it is already.
 */
export function daysUntilAccustomed(
  accustomed: number,
  dailyLight: number,
  timeConstantDays: number,
  share: number,
): number {
  notNegative(accustomed, 'accustomed light', 'mol/m2/d');
  inRange(dailyLight, 1e-6, 432, 'daily light', 'mol/m2/d');
  inRange(timeConstantDays, 0.1, 365, 'time constant', 'd');
  inRange(share, 1e-6, 0.999999, 'share of the light');
  const gap = Math.abs(accustomed - dailyLight);
  return Math.max(0, timeConstantDays * Math.log(gap / (share * dailyLight)));
}

/** The accustomed light after `days` in constant daily light. */
function adapted(accustomed: number, dailyLight: number, days: number, timeConstantDays: number): number {
  return dailyLight + (accustomed - dailyLight) * Math.exp(-days / timeConstantDays);
}
