import { dayMs, hourMs } from '../../../science/numeric/time.ts';
import { harmOf } from '../../../water/acute/harm.rules.ts';
import type { ReadingFact } from '../../facts/types.ts';
import { bearableLevels } from './danger.ts';
import type { Side } from './edges.ts';

const hoursPerDay = dayMs / hourMs;
/**
 * Tests nearer together are one and its repeats, unless both are relied on and lie clearly apart: a heater that sticks on shows
 * within the hour. Tests further apart tell no speed. Hours, own choice.
 */
const [atOnceHours, repeatHours, longestHours] = [0.25, 2, 48];
/** Within so many hours a level that runs on is acute before anybody looks again: a night. Own choice. */
const soonHours = 12;

/**
 * Hours until a level would be acute at the speed between the last test and the one before by the same method, where that is within a
 * night and the speed is relied on; null where it does not run there. `readings`: oldest first; `apart`: the most hours between
 * the two tests.
 */
export function hoursToAcute(
  code: string,
  side: Side,
  readings: readonly ReadingFact[],
  apart = longestHours,
): number | null {
  const last = readings.at(-1);
  if (last === undefined || isBound(last) || !isReliedOn(code, last)) return null;
  const alike = readings.filter((one) => isAlike(one, last) && !isBound(one));
  const before =
    alike.findLast((one) => isHourlyPair(one, last)) ??
    alike.findLast((one) => hoursBetween(one, last) > repeatHours);
  if (before === undefined || hoursBetween(before, last) > apart) return null;
  const towards = side === 'below' ? -1 : 1;
  const moved = (last.value - before.value) * towards;
  if (moved <= 0 || !isClear(before, last)) return null;
  const edge = bearableLevels(code)[side === 'below' ? 'low' : 'high'];
  const left = (((edge - last.value) * towards) / moved) * hoursBetween(before, last);
  return left > 0 && left <= soonHours ? left : null;
}

/**
 * Waiting for a second test is dear where harm comes within hours. What harms within days, such as alkalinity, runs only by a test that
 * surprised and was borne out: a bottle that reads otherwise looks the same until then.
 */
const isReliedOn = (code: string, last: ReadingFact): boolean => {
  const harm = harmOf(code);
  return harm === 'hours' || (harm === 'days' && last.trust === 'confirmed');
};

const hoursBetween = (before: ReadingFact, last: ReadingFact) => (last.day - before.day) * hoursPerDay;

/** Two tests within two hours that tell a speed: both relied on, and further apart than a test and its repeat. */
function isHourlyPair(before: ReadingFact, last: ReadingFact): boolean {
  const hours = hoursBetween(before, last);
  const relied = [before, last].every(({ trust }) => trust !== 'unconfirmed');
  return relied && hours >= atOnceHours && hours <= repeatHours && isClear(before, last);
}

const isClear = (before: ReadingFact, last: ReadingFact): boolean =>
  Math.abs(last.value - before.value) > clearly * Math.hypot(last.u, before.u);

/** Standard uncertainties of both tests that a move has to be larger than: the usual limit of a control chart. */
const clearly = 3;

/** Two sources never read quite alike, and what one of them says may be wrong: only one of them tells a speed. */
const isAlike = (a: ReadingFact, b: ReadingFact): boolean =>
  (a.methodId ?? null) === (b.methodId ?? null) && (a.probe ?? false) === (b.probe ?? false);

const isBound = ({ below, above }: ReadingFact): boolean => below || above === true;
