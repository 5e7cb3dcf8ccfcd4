import { memoizeWith } from '../../platform/memoize.ts';
import { estimateDay, type KitBiases, learntReadings } from '../estimates/nitrate.rules.ts';
import { withoutDoubted } from '../record/doubted.rules.ts';
import type { LeftFact, LookedFact, ReadingFact } from '../record/types.ts';
import type { WaterRecord } from '../record/water-record.ts';
import { dosesAsSeen } from './doses-as-seen.rules.ts';
import { type DemandRecord, risesOf } from './rate.rules.ts';

/** Nutrients come from feeding: make-up water is taken to hold none of them unless it is stated. */
const fed = new Set(['nitrate', 'phosphate']);

/**
 * One quantity of a water as the balance takes it: readings since the last event, without the bias of kits known to read
 * wrong, and what was done to the water. Pages and alerts work out of this alone what is used or made.
 */
export function demandRecord(record: WaterRecord, code: string, biases: KitBiases): DemandRecord {
  const readings = learntReadings(record, code, biases);
  const makeUp = record.kept.get(code)?.makeUp ?? (fed.has(code) ? 0 : null);
  const used = new Set(readings.map(({ kitId }) => kitId));
  const suspects = [...biases].flatMap(([id, { verdict }]) =>
    verdict === 'suspect' && used.has(id) ? [id] : [],
  );
  const { changes, doses, left = none, looked = none } = record;
  return recordOf(code, readings, changes, dosesAsSeen(doses, looked), makeUp, suspects, left, looked);
}

/** The day for which use is worked out, so that an alert of this morning and a page of now say one figure. */
export const demandDay = (record: WaterRecord, code: string, now: Date): number =>
  estimateDay(record, withoutDoubted(code, record.readings.get(code) ?? [], record.doubted), now);

const none: readonly never[] = [];

/** The same objects from the same facts, so that the rates worked out of them are kept with them. */
const recordOf = memoizeWith(
  (_code, readings) => readings.at(-1),
  (
    code: string,
    readings: readonly ReadingFact[],
    changes: WaterRecord['changes'],
    doses: WaterRecord['doses'],
    makeUp: number | null,
    suspects: readonly string[],
    left: readonly LeftFact[],
    looked: readonly LookedFact[],
  ): DemandRecord => ({
    left,
    looked: looked.filter(({ quantityCode }) => quantityCode === code),
    readings: readings.flatMap(({ day, value, u, below, above, trust, kitId, methodId, hand }) =>
      above
        ? []
        : [
            {
              ...{ day, value, u, below, trust },
              instrument: hand === '' ? (kitId ?? methodId ?? '') : hand,
              suspect: kitId !== null && suspects.includes(kitId),
            },
          ],
    ),
    log: {
      changes: changes.map((change) => ({ ...change, makeUp: change.makeUp?.[code] ?? null })),
      doses: risesOf(doses, code),
      makeUp,
    },
  }),
);
