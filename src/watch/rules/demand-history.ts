import type { DemandLog, DemandReading } from '../../water/demand.rules.ts';
import { risesOf } from '../../water/demand-doses.rules.ts';
import type { SystemFacts } from '../facts/types.ts';
import { withoutKitBias } from './kit-biased.ts';

/** One quantity of a system as the balance takes it: readings without the bias of known kits, changes, doses. */
export function demandHistory(
  facts: SystemFacts,
  code: string,
): { readings: DemandReading[]; log: DemandLog } {
  const { readings } = withoutKitBias(facts, code, facts.readings.get(code) ?? []);
  return {
    readings: readings.map(({ day, value, u, below, trust, kitId, hand }) => ({
      day,
      value,
      u,
      below,
      trust,
      hand: hand === '' ? (kitId ?? '') : hand,
      suspect: false,
    })),
    log: {
      changes: facts.changes.map(({ day, fraction, makeUp }) => ({
        day,
        fraction,
        makeUp: makeUp?.[code] ?? null,
      })),
      doses: risesOf(facts.doses, code),
      makeUp: facts.kept.get(code)?.makeUp ?? null,
    },
  };
}
