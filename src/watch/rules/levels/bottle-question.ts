import type { SystemFacts } from '../../facts/types.ts';
import { dateOfDay, nameOf } from '../shared/words.ts';

/** What is tested out of bottles, so that a new one may move a level that did not move. */
const bottled = ['alkalinity', 'calcium', 'magnesium', 'phosphate', 'nitrate'];
/** A bottle opened within so many days is named; own choice: a week more than its first step is looked at. */
const lately = 21;

/**
 * What is asked before a level is set right: whether a new bottle moved it. A bottle that nobody told of looks like a fall of the
 * water; one that was entered is named, whether the last test says that it was made with it or not. Empty for what is read
 * without one.
 */
export function bottleQuestion(facts: SystemFacts, code: string): string {
  if (!bottled.includes(code)) return '';
  const last = facts.readings.get(code)?.at(-1);
  const used = [...facts.kits, ...facts.visitingKits].find(({ id }) => id === last?.kitId);
  if (used !== undefined && last !== undefined && last.day - used.openedDay <= lately)
    return `${used.label} was opened on ${dateOfDay(used.openedDay, facts)}: does it read as the bottle before did? Test a standard with it before anything is dosed.`;
  const entered = newestOpened(facts, code, last?.day);
  if (entered === undefined)
    return `Was a new bottle of the ${nameOf(facts, code)} test opened that nobody entered? Enter it, and test a standard with it before anything is dosed.`;
  const opened = `${entered.label} was opened on ${dateOfDay(entered.openedDay, facts)}`;
  if (last !== undefined && entered.openedDay > last.day)
    return `${opened}, after the last test. Test one sample with it and with the bottle before, or a standard with it, before anything is dosed.`;
  const noted = used === undefined ? 'without a bottle' : `with ${used.label}`;
  return `${opened}, and the last test is noted ${noted}: was it made with the new one? Test a standard with ${entered.label} before anything is dosed.`;
}

/** The newest bottle of a quantity's tests that was opened lately before its last test, or since. */
const newestOpened = ({ openedKits = [] }: SystemFacts, code: string, lastDay = Number.NEGATIVE_INFINITY) =>
  openedKits.find(({ quantityCode, openedDay }) => quantityCode === code && openedDay >= lastDay - lately);
