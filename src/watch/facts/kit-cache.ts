import type pg from 'pg';
import type { Mark } from '../../platform/database/marks.ts';
import type { KitRecord } from '../../water/kits/bias.rules.ts';
import { loadKitOpenings } from '../../water/kits/openings.ts';
import type { Span } from '../../water/record/span.ts';
import {
  homeOf,
  type KitInSystem,
  type KitRow,
  type KitUse,
  kitFact,
  kitsInUse,
  loadKits,
  loadKitUse,
  loadProbeHomes,
  openedKits,
} from './kits.ts';
import { loadNames } from './systems.ts';
import type { KeptFact, KitFact, OpenedKitFact, ReadingFact } from './types.ts';

/** The water kits are judged by. */
export interface Water {
  readings(systemId: string): ReadonlyMap<string, readonly ReadingFact[]>;
  kept(systemId: string): ReadonlyMap<string, KeptFact>;
}

interface MadeFact {
  from: readonly unknown[];
  fact: KitFact;
}

/** The farm's kits and their use in each system, kept from one evaluation to the next. */
export class KitCache {
  readonly #pool: pg.Pool;
  #names: Awaited<ReturnType<typeof loadNames>> | null = null;
  #kits: readonly KitRow[] | null = null;
  #opened: { of: readonly KitRow[] | null; facts: readonly OpenedKitFact[] } | null = null;
  #useBySystem: Map<string, readonly KitInSystem[]> | null = null;
  /** The system of the last report of each probe, by kit. */
  #probeHomes: Map<string, string> | null = null;
  readonly #stale = new Set<string>();
  /** Readings that changed since, of one quantity or (null) of any. */
  #changed: { systemId: string; code: string | null }[] = [];
  readonly #openings = new Map<string, KitRecord['systems']>();
  readonly #made = new Map<string, MadeFact>();

  constructor(pool: pg.Pool) {
    this.#pool = pool;
  }

  /** Drops what a mark says has changed. */
  forget({ part, systemId, code }: Mark): void {
    if (part === 'kit') this.clear();
    if (part !== 'reading' || systemId === null) return;
    this.#stale.add(systemId);
    this.#changed.push({ systemId, code });
  }

  /** Drops how kits are used in these systems. */
  forgetUse(systemIds: readonly string[]): void {
    for (const systemId of systemIds) {
      this.#stale.add(systemId);
      this.#changed.push({ systemId, code: null });
    }
  }

  clear(): void {
    this.#names = null;
    this.#kits = null;
    this.#useBySystem = null;
    this.#probeHomes = null;
    this.#stale.clear();
    this.#changed = [];
    this.#openings.clear();
    this.#made.clear();
  }

  /** The kits that somebody uses, what is missing loaded. */
  async inUse(span: Span): Promise<KitUse[]> {
    const [names, kits, probeHomes] = await Promise.all([
      this.#names ?? loadNames(this.#pool),
      this.#kits ?? loadKits(this.#pool, span),
      this.#homes(span),
    ]);
    this.#names = names;
    this.#kits = kits;
    const used = kitsInUse({ kits, here: await this.#used(kits, span), probeHomes, names });
    await this.#loadOpenings(used);
    return used;
  }

  /** The bottles that are not put away, the newest first; after {@link inUse}. The same array while no kit changes. */
  opened(): readonly OpenedKitFact[] {
    if (this.#opened?.of !== this.#kits)
      this.#opened = { of: this.#kits, facts: openedKits(this.#kits ?? []) };
    return this.#opened?.facts ?? [];
  }

  /** Where probes stand: of those that reported in systems whose readings changed it is asked again. */
  async #homes(span: Span): Promise<ReadonlyMap<string, string>> {
    const known = this.#probeHomes;
    if (known === null) this.#probeHomes = await loadProbeHomes(this.#pool, null, span);
    else if (this.#stale.size > 0) {
      const anew = await loadProbeHomes(this.#pool, [...this.#stale], span);
      for (const [kitId, systemId] of anew) known.set(kitId, systemId);
    }
    return this.#probeHomes ?? known ?? new Map();
  }

  /** What shows how the level stepped with a kit: of kits that are new, and of those used where readings changed. */
  async #loadOpenings(kits: readonly KitUse[]): Promise<void> {
    const changed = this.#changed;
    this.#changed = [];
    const isStale = ({ quantityCode, systems }: KitUse) =>
      changed.some(
        ({ systemId, code }) =>
          (code === null || code === quantityCode) && systems.some((used) => used.systemId === systemId),
      );
    const missing = kits.filter((kit) => !this.#openings.has(kit.id) || isStale(kit));
    const loaded = await loadKitOpenings(
      this.#pool,
      missing.filter(({ probe }) => !probe).map(({ id }) => id),
    );
    for (const { id } of missing) this.#openings.set(id, loaded.get(id) ?? []);
  }

  /** A kit as a fact: the same object as long as nothing it is made from has changed. */
  fact(kit: KitUse, water: Water): KitFact {
    const own = this.#kits?.find(({ id }) => id === kit.id);
    const of = (systemId: string) => water.readings(systemId).get(kit.quantityCode);
    const middle = middleOf(water.kept(homeOf(kit)).get(kit.quantityCode));
    const used = kit.systems.flatMap(({ systemId, name, firstMs }) => [
      systemId,
      name,
      firstMs,
      of(systemId),
    ]);
    const openings = this.#openings.get(kit.id) ?? [];
    const from = [own, kit.used, middle, openings, ...used];
    const made = this.#made.get(kit.id);
    if (
      made !== undefined &&
      made.from.length === from.length &&
      from.every((one, i) => one === made.from[i])
    ) {
      return made.fact;
    }
    const fact = kitFact(kit, of, middle, openings);
    this.#made.set(kit.id, { from, fact });
    return fact;
  }

  async #used(kits: readonly KitRow[], span: Span): Promise<ReadonlyMap<string, readonly KitInSystem[]>> {
    if (this.#useBySystem === null) {
      this.#useBySystem = await loadKitUse(this.#pool, null, kits, span);
    } else if (this.#stale.size > 0) {
      const anew = await loadKitUse(this.#pool, [...this.#stale], kits, span);
      for (const id of this.#stale) this.#useBySystem.set(id, anew.get(id) ?? []);
    }
    this.#stale.clear();
    return this.#useBySystem;
  }
}

function middleOf(kept: KeptFact | undefined): number | null {
  if (kept?.bandLow == null || kept.bandHigh == null) return null;
  return (kept.bandLow + kept.bandHigh) / 2;
}
