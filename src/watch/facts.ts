import type pg from 'pg';
import { loadCorrections } from './facts/corrections.ts';
import { loadFeedings } from './facts/feedings.ts';
import { before, longestDays, type Span } from './facts/history.ts';
import { homeOf, type KitUse, kitFact, loadKitUse } from './facts/kits.ts';
import { loadLamps, loadLots } from './facts/lots.ts';
import { loadProbes } from './facts/probes.ts';
import { loadRacks } from './facts/racks.ts';
import { loadRoutines } from './facts/routines.ts';
import { loadKept, loadQuantities, loadSystems, loadTanks, type SystemRow } from './facts/systems.ts';
import { loadTemperatures } from './facts/temperatures.ts';
import type { KeptFact, KitFact, ReadingFact, SystemFacts } from './facts/types.ts';
import { loadChanges, loadDoses, loadReadings } from './facts/water.ts';

export type { SystemFacts } from './facts/types.ts';

/** Systems whose facts are loaded at once: few enough that building them holds up nobody. */
const batch = 10;

/**
 * The facts of many systems, some at a time: the next are on their way while the caller works on these. The number of
 * queries depends on that of systems alone.
 */
export async function* factsInBatches(
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  moment: Date | Span,
): AsyncGenerator<SystemFacts[]> {
  const span = spanOf(moment);
  const kits = systemIds === null ? [] : await loadKitUse(pool, systemIds, before(span, longestDays), span);
  const wanted = systemIds === null ? null : withHomes(systemIds, kits);
  const ids = (await loadSystems(pool, wanted)).map(({ systemId }) => systemId);
  // Where all fit in one batch and no kit's home joined them, their kits are known already.
  const known = wanted !== null && wanted.length === systemIds?.length && ids.length <= batch ? kits : null;
  const load = (from: number) => loadThese(pool, ids.slice(from, from + batch), span, known);
  let coming = load(0);
  for (let from = 0; from < ids.length; from += batch) {
    const facts = await coming;
    if (from + batch < ids.length) {
      coming = load(from + batch);
      // Whoever stops early leaves it unasked for.
      coming.catch(() => undefined);
    }
    yield facts;
  }
}

/**
 * All that the rules know of the systems asked for (null: all), and of those to which a kit used there belongs. A
 * fixed number of set-based queries, however many systems and lots.
 */
export async function loadFacts(
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  moment: Date | Span,
): Promise<SystemFacts[]> {
  const span = spanOf(moment);
  if (systemIds === null) return loadThese(pool, null, span);
  const kits = await loadKitUse(pool, systemIds, before(span, longestDays), span);
  const ids = withHomes(systemIds, kits);
  return loadThese(pool, ids, span, ids.length === systemIds.length ? kits : null);
}

const spanOf = (moment: Date | Span): Span =>
  moment instanceof Date ? { from: moment, now: moment } : moment;

async function loadThese(
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  span: Span,
  known: readonly KitUse[] | null = null,
): Promise<SystemFacts[]> {
  if (systemIds?.length === 0) return [];
  const [kits, systems] = await Promise.all([
    known ?? loadKitUse(pool, systemIds, before(span, longestDays), span),
    loadSystems(pool, systemIds),
  ]);
  const ids = systems.map((system) => system.systemId);
  const involved = kits.filter((kit) => kit.systems.some(({ systemId }) => ids.includes(systemId)));
  const watered = [
    ...new Set([...ids, ...involved.flatMap((kit) => kit.systems.map((used) => used.systemId))]),
  ];
  const [quantities, kept, readings, bySystem] = await Promise.all([
    loadQuantities(pool),
    loadKept(pool, ids),
    loadReadings(pool, watered, span),
    loadLogs(pool, ids, span),
  ]);
  const kitFacts = involved.map((kit) => ({ use: kit, fact: kitWith(kit, { readings, kept }) }));
  return systems.map((system) => ({
    ...system,
    quantities,
    kept: kept.get(system.systemId) ?? new Map(),
    readings: readings.get(system.systemId) ?? new Map(),
    ...bySystem(system.systemId),
    ...kitsOf(system, kitFacts),
  }));
}

/** What was logged in each system, and what stands in it. */
async function loadLogs(pool: pg.Pool, ids: readonly string[], span: Span) {
  const [changes, doses, feedings, routines, corrections, probes, temperatures, tanks, lots, lamps, racks] =
    await Promise.all([
      loadChanges(pool, ids, span),
      loadDoses(pool, ids, span),
      loadFeedings(pool, ids, span),
      loadRoutines(pool, ids, span),
      loadCorrections(pool, ids, span),
      loadProbes(pool, ids, span),
      loadTemperatures(pool, ids, span),
      loadTanks(pool, ids),
      loadLots(pool, ids, span),
      loadLamps(pool, ids, span),
      loadRacks(pool, ids, span),
    ]);
  return (id: string) => ({
    changes: changes.get(id) ?? [],
    doses: doses.get(id) ?? [],
    feedings: feedings.get(id) ?? [],
    routines: routines.get(id) ?? [],
    corrections: corrections.get(id) ?? [],
    probes: probes.get(id) ?? [],
    temperatures: temperatures.get(id) ?? [],
    tanks: tanks.get(id) ?? [],
    lots: lots.get(id) ?? [],
    lamps: lamps.get(id) ?? [],
    racks: racks.get(id) ?? [],
  });
}

/** A kit's alert stands with its home, so a change elsewhere has that evaluated as well. */
function withHomes(systemIds: readonly string[], kits: readonly KitUse[]): string[] {
  const used = kits.filter((kit) => kit.systems.some(({ systemId }) => systemIds.includes(systemId)));
  return [...new Set([...systemIds, ...used.map(homeOf)])];
}

interface Water {
  readings: ReadonlyMap<string, ReadonlyMap<string, readonly ReadingFact[]>>;
  kept: ReadonlyMap<string, ReadonlyMap<string, KeptFact>>;
}

const kitWith = (kit: KitUse, { readings, kept }: Water): KitFact =>
  kitFact(kit, readings, middleOf(kept.get(homeOf(kit))?.get(kit.quantityCode)));

/** The systems that share a kit share what is known of it, so that it is judged once. */
function kitsOf({ systemId }: SystemRow, kits: readonly { use: KitUse; fact: KitFact }[]) {
  const here = kits.filter(({ use }) => use.systems.some((used) => used.systemId === systemId));
  const facts = (own: boolean) =>
    here.filter(({ use }) => (homeOf(use) === systemId) === own).map(({ fact }) => fact);
  return { kits: facts(true), visitingKits: facts(false) };
}

function middleOf(kept: KeptFact | undefined): number | null {
  if (kept?.bandLow == null || kept.bandHigh == null) return null;
  return (kept.bandLow + kept.bandHigh) / 2;
}
