import type pg from 'pg';
import { MarkReader } from '../../platform/database/marks.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { loadDoubted } from '../../water/record/doubted.ts';
import type { Span } from '../../water/record/span.ts';
import { tracesOf } from '../../water/trust/probe-traces.ts';
import { KitCache } from './kit-cache.ts';
import { homeOf, type KitUse } from './kits.ts';
import { type PartName, partNames } from './loaders.ts';
import { doubtedSources, probeVotes, readingsWithVote, temperaturesWithVote } from './probe-votes.ts';
import { loadProbes } from './probes.ts';
import { loadSiteMoves } from './site-moves.ts';
import { SystemCache } from './system-cache.ts';
import { loadQuantities, loadSystems, type SystemRow } from './systems.ts';
import { movingTogether } from './together.rules.ts';
import type { KitFact, MoveFact, QuantityFact, SystemFacts } from './types.ts';
import { waitForAll } from './wait-for-all.ts';

export type { SystemFacts } from './types.ts';

/** Systems whose facts are loaded at once: few enough that building them holds up nobody. */
const batch = 10;
/** From two systems on that move together both are looked at: the fewest that a farm may set. */
const fewestTogether = 2;

/**
 * The facts of systems, kept from one time to the next: loaded anew is only what a transaction changed since, in this
 * process or another, and everything once a day. Asked by one at a time.
 */
export class FactsCache {
  readonly #pool: pg.Pool;
  readonly #systems: SystemCache;
  readonly #kits: KitCache;
  readonly #marks = new MarkReader();
  #quantities: Map<string, QuantityFact> | null = null;
  /** How systems moved in the last day, by site. */
  #moves: ReadonlyMap<string, readonly MoveFact[]> = new Map();
  #nowMs = 0;

  constructor(pool: pg.Pool) {
    this.#pool = pool;
    this.#systems = new SystemCache(pool);
    this.#kits = new KitCache(pool);
  }

  /**
   * The facts at `now` of the systems asked for (null: all), and of those to which a kit used there belongs, some at a
   * time: the next are on their way while the caller works on these.
   */
  async *facts(systemIds: readonly string[] | null, now: Date): AsyncGenerator<SystemFacts[]> {
    await this.#renew(now);
    yield* this.#batches(systemIds, { from: now, now }, false);
  }

  /** The same for a span of the past, of which nothing is kept. */
  async *past(systemIds: readonly string[] | null, span: Span): AsyncGenerator<SystemFacts[]> {
    this.#clear();
    yield* this.#batches(systemIds, span, true);
    this.#clear();
  }

  async *#batches(systemIds: readonly string[] | null, span: Span, drops: boolean) {
    const kits = await this.#kits.inUse(span);
    const asked = systemIds === null ? null : withHomes(systemIds, kits);
    const [quantities, moves] = await Promise.all([
      this.#quantities ?? loadQuantities(this.#pool),
      span.from < span.now ? [] : loadSiteMoves(this.#pool, asked, span),
    ]);
    this.#quantities = quantities;
    this.#moves = Map.groupBy(moves, ({ siteId }) => siteId);
    const wanted = asked === null ? null : this.#withSharers(asked);
    const systems = await loadSystems(this.#pool, wanted);
    const load = (from: number) =>
      from < systems.length ? this.#load(systems.slice(from, from + batch), kits, span) : null;
    let next = load(0);
    try {
      for (let from = 0; from < systems.length; from += batch) {
        const facts = (await next) ?? [];
        if (drops) this.#systems.drop(facts.map(({ systemId }) => systemId));
        next = load(from + batch);
        yield facts;
      }
    } finally {
      // A caller that stops early leaves no query running.
      await next?.catch(() => undefined);
    }
  }

  /** With those that move together with one of them: what they share is one matter of all. */
  #withSharers(systemIds: readonly string[]): string[] {
    const asked = new Set(systemIds);
    const shared = [...this.#moves.values()].flatMap((moves) =>
      movingTogether(moves, this.#quantities ?? new Map(), fewestTogether),
    );
    const sharers = shared
      .map(({ moves }) => moves.map(({ systemId }) => systemId))
      .filter((ids) => ids.some((id) => asked.has(id)));
    return [...new Set([...systemIds, ...sharers.flat()])];
  }

  /** Drops what has changed since the last time; everything where that is not known. */
  async #renew(now: Date): Promise<void> {
    const news = await this.#marks.news(this.#pool);
    const sameDay = Math.floor(dayOf(now)) === Math.floor(dayOf(new Date(this.#nowMs)));
    const back = now.getTime() < this.#nowMs;
    this.#nowMs = now.getTime();
    if (news === null || !sameDay || back || news.some(({ part }) => part === 'all')) return this.#clear();
    for (const mark of news) {
      this.#systems.forget(mark);
      this.#kits.forget(mark);
    }
    const past = this.#systems.dropOutdated(now);
    if (past === null) this.#clear();
    else this.#kits.forgetUse(past);
  }

  #clear(): void {
    this.#systems.clear();
    this.#kits.clear();
    this.#quantities = null;
  }

  async #load(systems: readonly SystemRow[], kits: readonly KitUse[], span: Span): Promise<SystemFacts[]> {
    const ids = systems.map(({ systemId }) => systemId);
    const asked = new Set(ids);
    const involved = kits.filter((kit) => kit.systems.some(({ systemId }) => asked.has(systemId)));
    const others = involved.flatMap((kit) => kit.systems.map(({ systemId }) => systemId));
    const reported = loadProbes(this.#pool, ids, span);
    const found = loadDoubted(this.#pool, ids, span.now);
    await waitForAll([reported, found, this.#systems.load(ids, others, span)]);
    const shown = ids.flatMap((id) => this.#systems.traces(id));
    const probes = await reported;
    const kept = await found;
    const traces = Map.groupBy(await tracesOf(this.#pool, shown, span.now), ({ systemId }) => systemId);
    const water = {
      readings: (id: string) => this.#systems.readings(id),
      kept: (id: string) => this.#systems.part(id, 'kept'),
    };
    const made = involved.map((kit) => ({ kit, fact: this.#kits.fact(kit, water) }));
    const quantities = this.#quantities ?? new Map<string, QuantityFact>();
    return systems.map((system) => {
      const all = water.readings(system.systemId);
      const votes = probeVotes(traces.get(system.systemId) ?? [], all, quantities, span.now);
      const doubted = doubtedSources(votes, kept.get(system.systemId) ?? []);
      const parts = this.#parts(system.systemId);
      return {
        ...system,
        quantities,
        readings: readingsWithVote(all, doubted),
        ...parts,
        temperatures: temperaturesWithVote(parts.temperatures, doubted),
        probes: probes.get(system.systemId) ?? [],
        probeVotes: votes,
        siteMoves: this.#moves.get(system.siteId) ?? [],
        doubted,
        ...kitsOf(system, made),
        openedKits: this.#kits.opened(),
      };
    });
  }

  #parts(systemId: string): Pick<SystemFacts, PartName> {
    const entries = partNames.map((name) => [name, this.#systems.part(systemId, name)]);
    return Object.fromEntries(entries) as Pick<SystemFacts, PartName>;
  }
}

/** The systems asked for, and the home of each kit used there: a kit's alert belongs to its home. */
function withHomes(systemIds: readonly string[], kits: readonly KitUse[]): string[] {
  const asked = new Set(systemIds);
  const used = kits.filter((kit) => kit.systems.some(({ systemId }) => asked.has(systemId)));
  return [...new Set([...systemIds, ...used.map(homeOf)])];
}

/** The systems that share a kit share what is known of it, so that it is judged once. */
function kitsOf({ systemId }: SystemRow, kits: readonly { kit: KitUse; fact: KitFact }[]) {
  const here = kits.filter(({ kit }) => kit.systems.some((used) => used.systemId === systemId));
  const facts = (own: boolean) =>
    here.filter(({ kit }) => (homeOf(kit) === systemId) === own).map(({ fact }) => fact);
  return { kits: facts(true), visitingKits: facts(false) };
}

const memories = new WeakMap<pg.Pool, FactsCache>();

/**
 * The facts of many systems (null: all), some at a time, with what was kept of the last time. To be used by one at a time.
 */
export function currentFacts(
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  now: Date,
): AsyncGenerator<SystemFacts[]> {
  const memory = memories.get(pool) ?? new FactsCache(pool);
  memories.set(pool, memory);
  return memory.facts(systemIds, now);
}

/** The same as they are known for a span of the past, read anew. */
export const pastFacts = (
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  span: Span,
): AsyncGenerator<SystemFacts[]> => new FactsCache(pool).past(systemIds, span);

/**
 * All that the rules know of the systems asked for (null: all), and of those to which a kit used there belongs, read
 * anew. The number of queries depends on that of systems alone, however many lots.
 */
export async function loadFacts(
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  moment: Date | Span,
): Promise<SystemFacts[]> {
  const span = moment instanceof Date ? { from: moment, now: moment } : moment;
  const facts: SystemFacts[] = [];
  for await (const some of new FactsCache(pool).past(systemIds, span)) facts.push(...some);
  return facts;
}
