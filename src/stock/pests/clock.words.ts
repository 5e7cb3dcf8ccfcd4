import { levelWords, withoutUnit } from '../../platform/units/everyday.ts';
import { plural } from '../../platform/words/numbers.ts';
import { whenWords } from '../../platform/words/times.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { type Clock, type DaysRange, LOOK_DAYS } from './clock.rules.ts';

const degrees = ({ low, high }: NonNullable<Clock['degC']>): string => {
  const [from, to] = [levelWords('temperature', low), levelWords('temperature', high)];
  return from === to ? from : `${withoutUnit(from)} to ${to}`;
};

function rangeWords({ low, high }: DaysRange): string {
  if (high === null) return 'not known';
  const most = Math.ceil(high);
  if (low === null) return `at most ${plural(most, 'day', 'days')}`;
  return Math.floor(low) >= most - 1 || Math.round(low) === Math.round(high)
    ? plural(Math.round(high), 'day', 'days')
    : `${Math.floor(low)} to ${plural(most, 'day', 'days')}`;
}

function atWords(clock: Clock, range: DaysRange): string {
  if (range.high === null)
    return clock.degC === null
      ? ': no temperature is recorded here, or none is published'
      : `: nothing is published for ${degrees(clock.degC)}`;
  return clock.degC === null ? ', published without a temperature' : ` at ${degrees(clock.degC)}`;
}

/** "11 days at 27.0 °C". */
export const hatchWords = (clock: Clock): string => {
  const { hatch } = clock;
  const how = hatch.estimated ? ' (the same share of the cycle as where it is published; own choice)' : '';
  return `${rangeWords(hatch)}${atWords(clock, hatch)}${how}`;
};

/** "38 days at 27.0 °C". */
export const cycleWords = (clock: Clock): string =>
  `${rangeWords(clock.cycle)}${atWords(clock, clock.cycle)}`;

const day = (at: Date, timeZone: string, now: Date) => whenWords(at, timeZone, now).slice(0, -6);

/** What is left until the water is clear. */
export function clearWords(clock: Clock, timeZone: string, now: Date): string {
  const { countsFrom, clean } = clock;
  if (countsFrom === null)
    return 'not known, since its cycle is not known here: the manager ends the watch with a reason';
  const apart = `two clean looks at least ${LOOK_DAYS} days apart`;
  const days = `${day(clock.since, timeZone, now)} to ${day(countsFrom, timeZone, now)}`;
  if (clean === 0) return `${apart}, from ${day(countsFrom, timeZone, now)} on: one cycle is ${days}`;
  return `one more clean look, from ${day(daysAfter(countsFrom, LOOK_DAYS), timeZone, now)} on; one of two is made`;
}

/** When a treatment finds everything hatched and nothing laying. */
export function treatmentWords({ treatment, untreated }: Clock, timeZone: string, now: Date): string {
  const first = untreated ? 'now, since what was seen may lay already; again ' : '';
  if (treatment === null) return `${first}when its eggs have hatched, which is not known here`;
  const from = `${first}${day(treatment.from, timeZone, now)}`;
  return treatment.until === null
    ? `${from} or later; when the first would lay is not known`
    : `${from} to ${day(treatment.until, timeZone, now)}: eggs have hatched, and nothing lays yet`;
}
