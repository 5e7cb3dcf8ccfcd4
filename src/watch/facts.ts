import type pg from 'pg';
import { homeOf, type KitUse, kitFact, loadKitUse } from './facts/kits.ts';
import { loadLamps, loadLots } from './facts/lots.ts';
import { loadKept, loadQuantities, loadSystems, type SystemRow } from './facts/systems.ts';
import type { ReadingFact, SystemFacts } from './facts/types.ts';
import { loadChanges, loadDoses, loadReadings } from './facts/water.ts';

export type { SystemFacts } from './facts/types.ts';

/** How far back the rules look: the own level of the nitrate rule remembers 150 days, after a warm-up. */
const historyDays = 400;
/** What the rules follow besides the quantities of kits in use. */
const followed = ['nitrate', 'alkalinity'];
const dosed = ['nitrate'];

/**
 * All that the rules know of the systems asked for (null: all), and of those to which a kit used there belongs. A
 * fixed number of set-based queries, however many systems and lots.
 */
export async function loadFacts(
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  now: Date,
): Promise<SystemFacts[]> {
  const since = new Date(now.getTime() - historyDays * 86_400_000);
  const kits = await loadKitUse(pool, since, now);
  const systems = await loadSystems(pool, systemIds === null ? null : withHomes(systemIds, kits));
  const ids = systems.map((system) => system.systemId);
  const involved = kits.filter((kit) => kit.systems.some(({ systemId }) => ids.includes(systemId)));
  const codes = [...new Set([...followed, ...involved.map((kit) => kit.quantityCode)])];
  const watered = [
    ...new Set([...ids, ...involved.flatMap((kit) => kit.systems.map((used) => used.systemId))]),
  ];
  const [quantities, kept, readings, changes, doses, lots, lamps] = await Promise.all([
    loadQuantities(pool),
    loadKept(pool, ids),
    loadReadings(pool, { systemIds: watered, codes, since, now }),
    loadChanges(pool, { systemIds: ids, since, now }),
    loadDoses(pool, { systemIds: ids, codes: dosed, since, now }),
    loadLots(pool, ids, since, now),
    loadLamps(pool, ids, now),
  ]);
  return systems.map((system) => ({
    ...system,
    quantities,
    kept: kept.get(system.systemId) ?? new Map(),
    readings: readings.get(system.systemId) ?? new Map(),
    changes: changes.get(system.systemId) ?? [],
    doses: doses.get(system.systemId) ?? [],
    ...kitsOf(system, involved, readings),
    lots: lots.get(system.systemId) ?? [],
    lamps: lamps.get(system.systemId) ?? [],
  }));
}

/** A kit's alert stands with its home, so a change elsewhere has that evaluated as well. */
function withHomes(systemIds: readonly string[], kits: readonly KitUse[]): string[] {
  const used = kits.filter((kit) => kit.systems.some(({ systemId }) => systemIds.includes(systemId)));
  return [...new Set([...systemIds, ...used.map(homeOf)])];
}

function kitsOf(
  { systemId }: SystemRow,
  kits: readonly KitUse[],
  readings: ReadonlyMap<string, ReadonlyMap<string, readonly ReadingFact[]>>,
) {
  const here = kits.filter((kit) => kit.systems.some((used) => used.systemId === systemId));
  const facts = (of: readonly KitUse[]) => of.map((kit) => kitFact(kit, readings));
  return {
    kits: facts(here.filter((kit) => homeOf(kit) === systemId)),
    visitingKits: facts(here.filter((kit) => homeOf(kit) !== systemId)),
  };
}
