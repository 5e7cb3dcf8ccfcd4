import type pg from 'pg';
import { type EquipmentLine, equipmentOf } from '../../farm/equipment/equipment.ts';
import { listOff, type OffNow } from '../../farm/switched-off/lists.ts';
import { type OffTimes, timesInForce } from '../../farm/switched-off/times.ts';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import { localDay, momentOf } from '../../platform/days.ts';
import { type LastTry, lastTries } from '../../stock/rack-photographs/last-tries.ts';
import { type OpenCount, openCount } from '../../stock/stocktakes/state.ts';
import { type FeedingHold, holdWords } from '../../water/log/feeding-check.rules.ts';
import { feedingHolds } from '../../water/log/feeding-check.ts';
import { tasksDue } from '../tasks/tasks.ts';
import { type ChoreDone, choresDone, choresOf } from './chores.rules.ts';
import { progressOf, type RackState, rackStates } from './progress.rules.ts';
import { type RackLot, type RoundRack, rackLots, roundRacks } from './rack-lots.ts';
import { type RepeatWanted, repeatsWanted } from './repeats-wanted.ts';
import type { RoundWithPlan } from './rounds.ts';
import { type SavedEntry, savedEntries } from './saved-entries.ts';
import { type Fed, fedBetween, type Tested, testedBetween } from './tests-and-feedings.ts';

/** Everything that the screens of one round are drawn from, as of `now`. */
export interface RoundSheet {
  round: RoundWithPlan;
  now: Date;
  timeZone: string;
  racks: RoundRack[];
  notes: SavedEntry[];
  rackStates: Map<string, RackState>;
  progress: { looked: number; total: number };
  systems: { id: string; name: string }[];
  tested: Tested[];
  fed: Fed[];
  /** When each system was fed last before the round, on the day that it began. */
  fedBefore: Map<string, Date>;
  /** What holds food back in the systems on the way. */
  holds: FeedingHold[];
  /** Work due in the systems on the way, of a finished round as it was then. */
  tasks: DueTask[];
  chores: ChoreDone[];
  /** Readings of this round that want a second one. */
  repeats: RepeatWanted[];
  /** What is off for now on the site, on the way or not, due first. */
  off: OffNow[];
  /** The equipment of the systems on the way, and how long each kind of thing may be off. */
  equipment: EquipmentLine[];
  offTimes: OffTimes[];
  /** What came of the last photograph of each rack, by rack. */
  photographs: Map<string, LastTry>;
  /** The stocktake that is open at the site; null where none is. */
  count: OpenCount | null;
}

/** Reads a round with all its screens need. The number of queries is fixed, however many racks there are. */
export async function readSheet(
  pool: pg.Pool,
  round: RoundWithPlan,
  timeZone: string,
  now: Date,
): Promise<RoundSheet> {
  const [racks, notes, off, count] = await Promise.all([
    roundRacks(pool, round.plan.id, now),
    savedEntries(pool, round.id),
    listOff(pool, round.plan.siteId),
    openCount(pool, round.plan.siteId),
  ]);
  const passed = round.finishedAt === null ? racks : racksThen(racks, notes);
  const systems = [...new Map(racks.map(({ systemId, system }) => [systemId, system]))].map(([id, name]) => ({
    id,
    name,
  }));
  const systemIds = systems.map((system) => system.id);
  const until = round.finishedAt ?? now;
  const dayBegan = momentOf(localDay(round.startedAt, timeZone), '00:00', timeZone);
  const [tested, fedOnDay, holds, due, repeats, equipment, times, photographs] = await Promise.all([
    testedBetween(pool, systemIds, round.startedAt, until),
    fedBetween(pool, systemIds, dayBegan, until),
    round.finishedAt === null ? feedingHolds(pool, systemIds) : [],
    tasksDue(pool, systemIds, until),
    repeatsWanted(pool, systemIds, round.startedAt, until),
    equipmentOf(pool, systemIds),
    timesInForce(pool),
    lastTries(
      pool,
      passed.map((rack) => rack.id),
    ),
  ]);
  const all = rackStates(notes);
  const [fed, before] = [
    fedOnDay.filter(({ at }) => at >= round.startedAt),
    fedOnDay.filter(({ at }) => at < round.startedAt),
  ];
  return {
    round,
    now,
    timeZone,
    racks: passed,
    notes,
    rackStates: all,
    progress: progressOf(
      passed.map((rack) => rack.id),
      all,
    ),
    systems,
    tested,
    fed,
    fedBefore: new Map(before.map(({ systemId, at }) => [systemId, at])),
    holds,
    tasks: due.map((task) => heldBack(task, holds)),
    chores: choresDone(choresOf(round.plan, systemIds), notes),
    repeats,
    off,
    equipment,
    offTimes: times,
    photographs,
    count,
  };
}

/** A feeding that is due waits while something holds food back in its water. */
function heldBack(task: DueTask, holds: readonly FeedingHold[]): DueTask {
  const here = holds.filter(({ systemId }) => systemId === task.systemId);
  return task.work !== 'feeding' || task.done || here.length === 0
    ? task
    : { ...task, held: holdWords(here) };
}

/** The racks that belonged to a finished round, as it kept them. */
function racksThen(racks: readonly RoundRack[], notes: readonly SavedEntry[]): RoundRack[] {
  const kept = notes.find((note) => note.kind === 'finished' && note.detail.racks)?.detail.racks;
  if (kept === undefined) return [...racks];
  const known = new Map(racks.map((rack) => [rack.id, rack]));
  const gone = { systemId: '', system: '', lots: 0, rows: 0, columns: 0, now: 0, today: 0 };
  return kept.map((rack) => ({ ...gone, ...known.get(rack.id), ...rack }));
}

/** The lots of these racks, by rack. */
export async function lotsByRack(
  pool: pg.Pool,
  { round, now }: Pick<RoundSheet, 'round' | 'now'>,
  rackIds: readonly string[],
): Promise<Map<string, RackLot[]>> {
  return Map.groupBy(await rackLots(pool, rackIds, round, now), (lot) => lot.rackId);
}
