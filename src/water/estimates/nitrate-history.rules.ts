import type { NitrateHistory, NitrateReading } from '../../science/filter/nitrate-types.ts';
import type { ReadingFact } from '../record/types.ts';
import type { WaterRecord } from '../record/water-record.ts';

/** The smallest relative uncertainty the filter is told; nobody's kit is better. */
const smallestSd = 0.03;

/** A system's nitrate as the filter takes it: readings, logged changes with their make-up water, doses, kits. */
export function nitrateHistory(
  record: Pick<WaterRecord, 'kept' | 'changes' | 'doses'>,
  readings: readonly ReadingFact[],
): NitrateHistory {
  const makeUp = record.kept.get('nitrate')?.makeUp ?? 0;
  const { openings, former } = kitsSeen(readings);
  return {
    readings: readings.map((reading) => nitrateReading(reading, former.has(reading.id))),
    changes: record.changes.map(({ day, fraction, makeUp: own, once = false }) => ({
      day,
      fraction,
      makeUp: own?.nitrate ?? makeUp,
      once,
    })),
    additions: record.doses.flatMap(({ day, quantityCode, rise }) =>
      quantityCode === 'nitrate' && rise !== null ? [{ day, rise }] : [],
    ),
    kitOpenings: openings,
  };
}

function nitrateReading(reading: ReadingFact, otherKit: boolean): NitrateReading {
  const { day, value, u, below, above, step, trust } = reading;
  const relative = value > 0 ? u / value : 1;
  return {
    day,
    value,
    relativeSd: Math.min(1, Math.max(smallestSd, relative)),
    ...(step === null ? {} : { step }),
    ...(below ? { bound: 'below' as const } : {}),
    ...(above ? { bound: 'above' as const } : {}),
    confirmed: trust === 'confirmed',
    otherKit,
  };
}

/** A kit opens, for this water, with its first reading; a reading by one that was put away reads with another bias. */
function kitsSeen(readings: readonly ReadingFact[]): { openings: number[]; former: Set<string> } {
  const seen = new Set<string | null>();
  const openings: number[] = [];
  const former = new Set<string>();
  let current: string | null | undefined;
  for (const { id, kitId, day } of readings) {
    if (kitId === current) continue;
    if (seen.has(kitId)) former.add(id);
    else {
      if (current !== undefined) openings.push(day);
      seen.add(kitId);
      current = kitId;
    }
  }
  return { openings, former };
}
