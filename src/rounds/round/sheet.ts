import type pg from 'pg';
import { type EquipmentLine, equipmentOf } from '../../farm/equipment/equipment.ts';
import { listOff, type OffNow } from '../../farm/switched-off/lists.ts';
import { type OffTimes, timesInForce } from '../../farm/switched-off/times.ts';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import { tasksDue } from '../tasks/tasks.ts';
import { type ChoreDone, choresDone, choresOf } from './chores.rules.ts';
import { type Note, roundNotes } from './notes.ts';
import { progressOf, type RackStanding, standings } from './progress.rules.ts';
import { type RackLot, rackLots, type WalkRack, walkRacks } from './rack-lots.ts';
import { type RepeatWanted, repeatsWanted } from './test-rows.ts';
import { type Fed, fedBetween, type Tested, testedBetween } from './tests-and-feedings.ts';
import type { Walk } from './walks.ts';

/** A round as it stands: everything its screens are drawn from. */
export interface Sheet {
  walk: Walk;
  now: Date;
  timeZone: string;
  racks: WalkRack[];
  notes: Note[];
  standings: Map<string, RackStanding>;
  progress: { looked: number; total: number };
  systems: { id: string; name: string }[];
  tested: Tested[];
  fed: Fed[];
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
}

/** Reads a round as it stands. A fixed number of queries, however long the walk. */
export async function readSheet(pool: pg.Pool, walk: Walk, timeZone: string, now: Date): Promise<Sheet> {
  const [racks, notes, off] = await Promise.all([
    walkRacks(pool, walk.plan.id),
    roundNotes(pool, walk.id),
    listOff(pool, walk.plan.siteId),
  ]);
  const passed = walk.finishedAt === null ? racks : racksThen(racks, notes);
  const systems = [...new Map(racks.map(({ systemId, system }) => [systemId, system]))].map(([id, name]) => ({
    id,
    name,
  }));
  const systemIds = systems.map((system) => system.id);
  const until = walk.finishedAt ?? now;
  const [tested, fed, tasks, repeats, equipment, times] = await Promise.all([
    testedBetween(pool, systemIds, walk.startedAt, until),
    fedBetween(pool, systemIds, walk.startedAt, until),
    tasksDue(pool, systemIds, until),
    repeatsWanted(pool, systemIds, walk.startedAt, until),
    equipmentOf(pool, systemIds),
    timesInForce(pool),
  ]);
  const all = standings(notes);
  return {
    walk,
    now,
    timeZone,
    racks: passed,
    notes,
    standings: all,
    progress: progressOf(
      passed.map((rack) => rack.id),
      all,
    ),
    systems,
    tested,
    fed,
    tasks,
    chores: choresDone(choresOf(walk.plan, systemIds), notes),
    repeats,
    off,
    equipment,
    offTimes: times,
  };
}

/** The racks that belonged to a finished round, as it kept them. */
function racksThen(racks: readonly WalkRack[], notes: readonly Note[]): WalkRack[] {
  const kept = notes.find((note) => note.kind === 'finished' && note.detail.racks)?.detail.racks;
  if (kept === undefined) return [...racks];
  const known = new Map(racks.map((rack) => [rack.id, rack]));
  const gone = { systemId: '', system: '', lots: 0 };
  return kept.map((rack) => ({ ...gone, ...known.get(rack.id), ...rack }));
}

/** The lots of all racks on the way, by rack. */
export async function lotsByRack(
  pool: pg.Pool,
  sheet: Pick<Sheet, 'now'>,
  rackIds: readonly string[],
): Promise<Map<string, RackLot[]>> {
  return Map.groupBy(await rackLots(pool, rackIds, sheet.now), (lot) => lot.rackId);
}
