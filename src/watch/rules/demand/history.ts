import { memoizeWith } from '../../../platform/memoize.ts';
import { type DemandRecord, risesOf } from '../../../water/demand/rate.rules.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import { withoutKitBias } from '../levels/kit-bias.ts';
import { sinceLastEvent } from '../levels/last-event.ts';

/** One quantity of a system as the balance takes it: readings without the bias of known kits, changes, doses. */
export function demandHistory(facts: SystemFacts, code: string): DemandRecord {
  const { readings } = withoutKitBias(facts, code, sinceLastEvent(facts, facts.readings.get(code) ?? []));
  return historyOf(code, readings, facts.changes, facts.doses, facts.kept.get(code)?.makeUp ?? null);
}

/** The same objects from the same facts, so that the rates worked out of them are kept with them. */
const historyOf = memoizeWith(
  (_code, readings) => readings.at(-1),
  (
    code: string,
    readings: readonly ReadingFact[],
    changes: SystemFacts['changes'],
    doses: SystemFacts['doses'],
    makeUp: number | null,
  ): DemandRecord => ({
    readings: readings.map(({ day, value, u, below, trust, kitId, hand }) => ({
      day,
      value,
      u,
      below,
      trust,
      instrument: hand === '' ? (kitId ?? '') : hand,
      suspect: false,
    })),
    log: {
      changes: changes.map((change) => ({
        day: change.day,
        fraction: change.fraction,
        makeUp: change.makeUp?.[code] ?? null,
      })),
      doses: risesOf(doses, code),
      makeUp,
    },
  }),
);
