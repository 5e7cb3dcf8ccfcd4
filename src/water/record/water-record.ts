import type pg from 'pg';
import { withoutDoubted } from './doubted.rules.ts';
import { loadDoubted } from './doubted.ts';
import { loadKept } from './kept.ts';
import { loadLeft } from './left.ts';
import { loadLooked } from './looked.ts';
import { loadChanges, loadDoses, loadEvents, loadReadings } from './record.ts';
import type {
  ChangeFact,
  DoseFact,
  DoubtedSource,
  EventFact,
  KeptFact,
  LeftFact,
  LookedFact,
  ReadingFact,
} from './types.ts';

/** What is written down of one system's water, each list oldest first. */
export interface WaterRecord {
  /** Standing readings by quantity. */
  readings: ReadonlyMap<string, readonly ReadingFact[]>;
  changes: readonly ChangeFact[];
  doses: readonly DoseFact[];
  kept: ReadonlyMap<string, KeptFact>;
  events: readonly EventFact[];
  /** Stock that left. */
  left?: readonly LeftFact[];
  /** Looks into the containers of dosers. */
  looked?: readonly LookedFact[];
  /** Probes that have no vote: what is estimated of the water leaves out what they show. */
  doubted: readonly DoubtedSource[];
}

/**
 * The record of some quantities in these systems as it is known at `now`, by system. The watch loads the same by the same
 * queries, so that both work out the same from it. Nine queries, however many systems.
 */
export async function readWaterRecord(
  pool: pg.Pool,
  systemIds: readonly string[],
  codes: readonly string[],
  now: Date,
): Promise<Map<string, WaterRecord>> {
  const span = { from: now, now };
  const [readings, changes, doses, kept, events, doubted, left, looked] = await Promise.all([
    loadReadings(pool, systemIds, span, codes),
    loadChanges(pool, systemIds, span),
    loadDoses(pool, systemIds, span),
    loadKept(pool, systemIds),
    loadEvents(pool, systemIds, span),
    loadDoubted(pool, systemIds, now),
    loadLeft(pool, systemIds, span),
    loadLooked(pool, systemIds, span),
  ]);
  return new Map(
    systemIds.map((id) => [
      id,
      {
        readings: new Map(
          [...(readings.get(id) ?? [])].map(([code, all]) => [
            code,
            withoutDoubted(code, all, doubted.get(id) ?? []),
          ]),
        ),
        changes: changes.get(id) ?? [],
        doses: doses.get(id) ?? [],
        kept: kept.get(id) ?? new Map(),
        events: events.get(id) ?? [],
        doubted: doubted.get(id) ?? [],
        left: left.get(id) ?? [],
        looked: looked.get(id) ?? [],
      },
    ]),
  );
}
