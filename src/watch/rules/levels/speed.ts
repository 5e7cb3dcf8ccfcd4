import { dayMs, hourMs } from '../../../science/numeric/time.ts';
import type { ReadingFact } from '../../facts/types.ts';
import { bearableLevels, harmOf } from './danger.ts';
import type { Side } from './edges.ts';

const hoursPerDay = dayMs / hourMs;
/** Tests nearer together are one and its repeats; tests further apart tell no speed. Hours, own choice. */
const [repeatHours, longestHours] = [2, 48];
/** Within so many hours a level that runs on is acute before anybody looks again: a night. Own choice. */
const soonHours = 12;

/**
 * Hours until a level would be acute at the speed between the last test and the one before by the same method, where that is within a
 * night and the quantity does harm within hours; null where it does not run there. `readings`: oldest first; `apart`: the most
 * hours between the two tests.
 */
export function hoursToAcute(
  code: string,
  side: Side,
  readings: readonly ReadingFact[],
  apart = longestHours,
): number | null {
  if (harmOf(code) !== 'hours') return null;
  const last = readings.at(-1);
  const before = readings.findLast(
    (one) => last !== undefined && isAlike(one, last) && (last.day - one.day) * hoursPerDay > repeatHours,
  );
  if (last === undefined || before === undefined || isBound(last) || isBound(before)) return null;
  const hours = (last.day - before.day) * hoursPerDay;
  const towards = side === 'below' ? -1 : 1;
  const moved = (last.value - before.value) * towards;
  if (hours > apart || moved <= clearly * Math.hypot(last.u, before.u)) return null;
  const edge = bearableLevels(code)[side === 'below' ? 'low' : 'high'];
  const left = (((edge - last.value) * towards) / moved) * hours;
  return left > 0 && left <= soonHours ? left : null;
}

/** Standard uncertainties of both tests that a move has to be larger than: the usual limit of a control chart. */
const clearly = 3;

/** Two sources never read quite alike, and what one of them says may be wrong: only one of them tells a speed. */
const isAlike = (a: ReadingFact, b: ReadingFact): boolean =>
  (a.methodId ?? null) === (b.methodId ?? null) && (a.probe ?? false) === (b.probe ?? false);

const isBound = ({ below, above }: ReadingFact): boolean => below || above === true;
