import type pg from 'pg';
import type { Mark } from '../../platform/database/marks.ts';
import { dayMs } from '../../science/numeric/time.ts';
import { loadReadings, loadReadingsFrom, type ReadingsFrom } from '../../water/record/record.ts';
import type { Span } from '../../water/record/span.ts';
import { type ProbeSamples, probeSamples, renewedSamples } from '../../water/trust/probe-traces.ts';
import { type PartName, partNames, parts, staleParts } from './loaders.ts';
import { nextChangeTimes } from './next-change-times.ts';
import type { SystemFacts } from './types.ts';
import { waitForAll } from './wait-for-all.ts';

type Readings = SystemFacts['readings'];

/** The facts kept of one system; what is missing is loaded when it is asked for. */
interface CachedSystem {
  parts: Map<PartName, unknown>;
  readings: Readings | null;
  /** What its probes showed lately. */
  traces: readonly ProbeSamples[] | null;
  /** From when on that is read anew; infinite where it holds. */
  tracesFromMs: number;
  /** Quantities whose readings changed since, with the time of the earliest, milliseconds since 1970. */
  staleCodes: Map<string, number>;
  /** When a row with a later time begins to count (see next-change-times.ts), milliseconds since 1970. */
  untilMs: number;
}

/**
 * The facts of each system, kept from one evaluation to the next. What did not change is the same object each time, so
 * that results memoized on it stay valid.
 */
export class SystemCache {
  readonly #pool: pg.Pool;
  readonly #systems = new Map<string, CachedSystem>();
  /** The same for rows that concern every system. */
  #untilMs = Number.POSITIVE_INFINITY;

  constructor(pool: pg.Pool) {
    this.#pool = pool;
  }

  /** Drops what a mark says has changed. */
  forget(mark: Mark): void {
    const stale = staleParts(mark);
    const affected =
      mark.systemId === null ? [...this.#systems.values()] : [this.#systems.get(mark.systemId)];
    for (const one of affected) {
      for (const name of stale) one?.parts.delete(name);
      if (mark.part === 'reading' && one !== undefined)
        one.tracesFromMs = Math.min(one.tracesFromMs, mark.fromMs ?? Number.NEGATIVE_INFINITY);
      if (mark.part !== 'reading' || mark.code === null || one === undefined) continue;
      const fromMs = mark.fromMs ?? Number.NEGATIVE_INFINITY;
      one.staleCodes.set(mark.code, Math.min(fromMs, one.staleCodes.get(mark.code) ?? fromMs));
    }
  }

  /** Drops the systems whose facts have changed by time alone by now, and returns their ids; null when that is all of them. */
  dropOutdated(now: Date): string[] | null {
    if (now.getTime() >= this.#untilMs) return null;
    const past = [...this.#systems].flatMap(([id, { untilMs }]) => (now.getTime() >= untilMs ? [id] : []));
    this.drop(past);
    return past;
  }

  drop(systemIds: readonly string[]): void {
    for (const id of systemIds) this.#systems.delete(id);
  }

  clear(): void {
    this.#systems.clear();
    this.#untilMs = Number.POSITIVE_INFINITY;
  }

  /** Loads what is missing of the systems, and of others, whose kits they share, the readings. */
  async load(systemIds: readonly string[], others: readonly string[], span: Span): Promise<void> {
    const withReadings = [...new Set([...systemIds, ...others])];
    const stale = withReadings.filter((id) => {
      const { readings, staleCodes } = this.#of(id);
      return readings === null || staleCodes.size > 0;
    });
    const incomplete = systemIds.filter((id) => this.#of(id).parts.size < partNames.length);
    const withoutLots = incomplete.filter((id) => !this.#of(id).parts.has('lots'));
    await waitForAll([
      this.#loadReadings(stale, span),
      ...partNames.map((name) => this.#loadPart(name, incomplete, span)),
      this.#loadTraces(systemIds, span),
      this.#loadNextChange('water', [...new Set([...stale, ...incomplete])], span),
      this.#loadNextChange('lots', withoutLots, span),
    ]);
  }

  readings(systemId: string): Readings {
    return this.#of(systemId).readings ?? new Map();
  }

  traces(systemId: string): readonly ProbeSamples[] {
    return this.#of(systemId).traces ?? [];
  }

  part<Name extends PartName>(systemId: string, name: Name): SystemFacts[Name] {
    return (this.#of(systemId).parts.get(name) ?? parts[name].none) as SystemFacts[Name];
  }

  #of(systemId: string): CachedSystem {
    const known = this.#systems.get(systemId);
    if (known !== undefined) return known;
    const cached = {
      parts: new Map(),
      readings: null,
      traces: null,
      tracesFromMs: Number.POSITIVE_INFINITY,
      staleCodes: new Map<string, number>(),
      untilMs: Number.POSITIVE_INFINITY,
    };
    this.#systems.set(systemId, cached);
    return cached;
  }

  async #loadPart(name: PartName, systemIds: readonly string[], span: Span): Promise<void> {
    const missing = systemIds.filter((id) => !this.#of(id).parts.has(name));
    if (missing.length === 0) return;
    const loaded = await parts[name].load(this.#pool, missing, span);
    for (const id of missing) this.#of(id).parts.set(name, loaded.get(id) ?? parts[name].none);
  }

  /** What the probes showed: of systems that are known, from the half hour of the first change on. */
  async #loadTraces(systemIds: readonly string[], span: Span): Promise<void> {
    const isWhole = (id: string) =>
      this.#of(id).traces === null || this.#of(id).tracesFromMs === Number.NEGATIVE_INFINITY;
    const whole = systemIds.filter(isWhole);
    const some = systemIds.filter((id) => !isWhole(id));
    const changed = some.filter((id) => this.#of(id).tracesFromMs !== Number.POSITIVE_INFINITY);
    const from = new Date(
      changed.length === 0 ? 0 : Math.min(...changed.map((id) => this.#of(id).tracesFromMs)),
    );
    const [all, anew] = await Promise.all([
      whole.length === 0 ? [] : probeSamples(this.#pool, whole, null, span.now),
      changed.length === 0 ? [] : probeSamples(this.#pool, changed, null, span.now, from),
    ]);
    const [bySystem, news] = [all, anew].map((list) => Map.groupBy(list, ({ systemId }) => systemId));
    for (const id of whole) this.#of(id).traces = bySystem?.get(id) ?? [];
    for (const id of some) {
      const isChanged = changed.includes(id);
      const until = isChanged ? from : new Date(span.now.getTime() + dayMs);
      const own = isChanged ? (news?.get(id) ?? []) : [];
      this.#of(id).traces = renewedSamples(this.traces(id), own, { from: until, at: span.now });
    }
    for (const id of systemIds) this.#of(id).tracesFromMs = Number.POSITIVE_INFINITY;
  }

  async #loadReadings(systemIds: readonly string[], span: Span): Promise<void> {
    const unknown = systemIds.filter((id) => this.#of(id).readings === null);
    const changed = systemIds.filter((id) => this.#of(id).readings !== null);
    const stale = changed.flatMap((id) => [...this.#of(id).staleCodes]);
    const codes = [...new Set(stale.map(([code]) => code))];
    const fromMs = stale.reduce((earliest, [, ms]) => Math.min(earliest, ms), Number.POSITIVE_INFINITY);
    const [all, some] = await Promise.all([
      unknown.length === 0 ? null : loadReadings(this.#pool, unknown, span),
      changed.length === 0 ? null : loadReadingsFrom(this.#pool, changed, span, { codes, fromMs }),
    ]);
    for (const id of unknown) this.#keep(id, all?.get(id) ?? new Map());
    for (const id of changed) this.#keep(id, renewed(this.readings(id), some?.get(id) ?? new Map()));
  }

  #keep(systemId: string, readings: Readings): void {
    const cached = this.#of(systemId);
    cached.readings = readings;
    cached.staleCodes = new Map();
  }

  async #loadNextChange(of: 'water' | 'lots', systemIds: readonly string[], span: Span): Promise<void> {
    if (systemIds.length === 0) return;
    for (const [systemId, ms] of await nextChangeTimes(this.#pool, of, systemIds, span)) {
      if (systemId === null) this.#untilMs = Math.min(this.#untilMs, ms);
      else this.#of(systemId).untilMs = Math.min(this.#of(systemId).untilMs, ms);
    }
  }
}

/** Readings with the newer ones of some quantities taken anew; all others are the same objects. */
function renewed(readings: Readings, loaded: ReadonlyMap<string, ReadingsFrom>): Readings {
  const now = new Map(readings);
  for (const [code, { afterDay, anew }] of loaded) {
    const all = [...(readings.get(code) ?? []).filter(({ day }) => day <= afterDay), ...anew];
    if (all.length === 0) now.delete(code);
    else now.set(code, all);
  }
  return now;
}
