import type pg from 'pg';
import type { Span } from './facts/history.ts';
import { FactsMemory } from './facts/memory.ts';
import type { SystemFacts } from './facts/types.ts';

export type { SystemFacts } from './facts/types.ts';

const memories = new WeakMap<pg.Pool, FactsMemory>();

/**
 * The facts of many systems (null: all), some at a time, with what was kept of the last time. To be used by one at a time.
 */
export function currentFacts(
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  now: Date,
): AsyncGenerator<SystemFacts[]> {
  const memory = memories.get(pool) ?? new FactsMemory(pool);
  memories.set(pool, memory);
  return memory.facts(systemIds, now);
}

/** The same as they are known for a span of the past, read anew. */
export const pastFacts = (
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  span: Span,
): AsyncGenerator<SystemFacts[]> => new FactsMemory(pool).past(systemIds, span);

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
  for await (const some of new FactsMemory(pool).past(systemIds, span)) facts.push(...some);
  return facts;
}
