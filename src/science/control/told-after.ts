import {
  probabilityOfLeaving,
  type SlopeOptions,
  type SlopeReading,
  type SlopeState,
  type SlopeStep,
  trackSlope,
} from '../filter/slope.ts';
import { positive } from '../numeric/range.ts';
import { normalTail } from '../statistics/normal.ts';

/** A level that begins to move and goes on at the same speed. */
interface Drift {
  /** Where it stood before; all other fields share its unit. */
  level: number;
  /** By how much it moves a day, with its sign; not 0. */
  perDay: number;
}

/** How a quantity is tested, and what tells that it moved. */
export interface Watching {
  /** Standard uncertainty of one test. */
  sd: number;
  /** The filter's constants for this quantity. */
  options: SlopeOptions;
  /** The band; infinite where an end is open. */
  band: { low: number; high: number };
  /** The chance of standing outside within so many days that tells; with `ahead` 0, of standing there now. */
  tells: { chance: number; ahead: number };
}

/** Tests before the drift: after so many the filter knows a steady level about as well as it ever will. */
const testsBefore = 12;
/** When within an interval a drift may begin, as parts of it. */
const phases = [1 / 8, 3 / 8, 5 / 8, 7 / 8];
/** A drift is given up that so many tests beyond the edge of the band, and as long a time again, have not told. */
const testsBeyond = 12;

/**
 * Days from the beginning of a drift until tests at an interval tell of it; null where twice the time to the edge and a dozen tests do not, or there is no edge on that side. The watch's
 * own filter follows the expected tests (each as the level stands, without its error) until it says that the level is, or
 * will soon be, outside its band; a test too far off is repeated at once, and outside the band tells by itself. The mean
 * over the moments within an interval at which a drift may begin: the wait for the first test is half an interval in the
 * mean (Duncan 1956, The economic design of X-bar charts, JASA 51, for troubles that are rare against the interval). It is
 * the delay of the expected tests, near the middle of all delays; tests that are left out are not in it.
 */
export function daysUntilTold(drift: Drift, everyDays: number, watching: Watching): number | null {
  positive(everyDays, 'interval between tests', 'd');
  positive(watching.sd, 'standard uncertainty of a test');
  if (!Number.isFinite(drift.perDay < 0 ? watching.band.low : watching.band.high)) return null;
  let sum = 0;
  for (const phase of phases) {
    const delay = delayFrom(drift, everyDays, phase * everyDays, watching);
    if (delay === null) return null;
    sum += delay;
  }
  return sum / phases.length;
}

/** The delay where the first test comes `first` days after the beginning. */
function delayFrom({ level, perDay }: Drift, everyDays: number, first: number, watching: Watching) {
  const { sd, options, band } = watching;
  const tests: SlopeReading[] = [];
  const edge = perDay < 0 ? band.low : band.high;
  const count = Math.ceil((2 * Math.max(0, (edge - level) / perDay)) / everyDays) + testsBeyond;
  for (let n = -testsBefore; n < count; n++) {
    const day = first + n * everyDays;
    tests.push({ day, value: level + (n < 0 ? 0 : perDay * day), sd });
  }
  const last = (tests.at(-1) as SlopeReading).day;
  let track = trackSlope(tests, last, options).history;
  for (let n = testsBefore; n < tests.length; n++) {
    const test = tests[n] as SlopeReading;
    const isOff = (track[n] as SlopeStep).cut;
    if (isOff) {
      tests[n] = { ...test, confirmed: true };
      track = trackSlope(tests, last, options).history;
    }
    const isOutside = perDay < 0 ? test.value < band.low : test.value > band.high;
    if ((isOff && isOutside) || tells(track[n] as SlopeStep, perDay, watching)) return test.day;
  }
  return null;
}

function tells(state: SlopeState, perDay: number, { band, options, tells: { chance, ahead } }: Watching) {
  if (state.slope * perDay <= 0) return false;
  const { below, above } =
    ahead === 0
      ? {
          below: normalTail((state.level - band.low) / state.levelSd),
          above: normalTail((band.high - state.level) / state.levelSd),
        }
      : probabilityOfLeaving(state, band, options, ahead);
  return (perDay < 0 ? below : above) >= chance;
}
