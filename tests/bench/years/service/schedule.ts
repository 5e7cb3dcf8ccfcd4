import type { SystemFacts } from '../../../../src/watch/facts/types.ts';
import { nextDueDay } from '../../../../src/water/routines/routines.rules.ts';
import {
  isDosedWithAlkalinity,
  isWeighed,
  weighedCodes,
  weighTests,
} from '../../../../src/water/routines/test-schedule.rules.ts';
import { dayZero } from '../../../watch/facts.ts';
import { type Code, lastOf, type SystemBook } from '../hands/book.ts';
import { testDays } from '../hands/routine.ts';
import { rateOf } from './correcting.ts';

/** Once a week the proposals are looked at and taken. */
const takenEvery = 7;
/** The tests as the service proposes them, taken once a week: how many days apart; as before where it proposes nothing. */
export class TestSchedule {
  readonly #every = new Map<string, number>();
  #takenOn = Number.NEGATIVE_INFINITY;

  /** Takes what is proposed now, where a week has passed. */
  take(facts: () => SystemFacts, day: number): void {
    if (day - this.#takenOn < takenEvery) return;
    this.#takenOn = day;
    const known = facts();
    for (const code of weighedCodes) {
      const readings = known.readings.get(code);
      const quantity = known.quantities.get(code);
      if (readings === undefined || quantity === undefined) continue;
      const { plausibleLow, plausibleHigh } = quantity;
      const weighed = weighTests({
        ...{ code, plausibleLow, plausibleHigh, readings, hasProbe: false },
        ...{ kept: known.kept.get(code), everyDays: this.#every.get(code) ?? null },
        dosedWithAlkalinity: isDosedWithAlkalinity(known.doses, code, dayZero + day),
        rate: code === 'salinity' ? null : rateOf(known, code, day),
      });
      if (isWeighed(weighed)) this.#every.set(code, weighed.proposed);
    }
  }

  /** How many days apart a quantity is tested; null: on its days of the week. */
  everyDays(code: Code): number | null {
    return this.#every.get(code) ?? null;
  }

  /** Whether a test is due, as routines are. */
  isDue(book: SystemBook, code: Code, day: number): boolean {
    const every = this.everyDays(code);
    if (every === null) return testDays[code].includes(day % 7);
    const last = lastOf(book, code)?.at;
    const lastDay = last === undefined ? null : Math.floor(last);
    return nextDueDay({ startsDay: 0, everyDays: every }, lastDay) <= day;
  }
}
