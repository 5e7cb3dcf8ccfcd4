import { createHash } from 'node:crypto';
import type pg from 'pg';

// On a farm of usual size a good part of what a page costs the database is reading and planning its queries, which are the
// same each time. A query with a name is read once a connection; after five times the database keeps one plan for all values
// where it reckons that to be as good (plan_cache_mode auto), and plans anew for each where not.

/** Names that a connection holds at most; what comes beyond them has none. Each takes the server about 140 kB (measured). */
export const mostNames = 120;
/** So often a text is asked for in this process before it gets a name: what pages ask comes before what is asked seldom. */
export const askedBefore = 4;
/** Texts that are counted at most. Most are constants of the program; some have a place for each of a number of values. */
const mostTexts = 2_000;

/** Codes of PostgreSQL: the statement is not there (any longer); it gives something else, since tables were altered meanwhile. */
const noSuchStatement = '26000';
const changedResult = '0A000';

/** How often each text was asked for, then its name. */
const texts = new Map<string, number | string>();

/** Which texts get a name, and how many: what suits a service that runs for weeks where nothing else is said. */
export interface Naming {
  askedBefore: number;
  mostNames: number;
}

/** The name of a text that is asked for again and again; null for others. */
function nameOf(text: string, { askedBefore }: Naming): string | null {
  const known = texts.get(text) ?? 0;
  if (typeof known === 'string') return known;
  if (known === 0 && texts.size >= mostTexts) texts.delete(texts.keys().next().value ?? '');
  const name = known < askedBefore ? null : createHash('sha256').update(text).digest('base64url');
  texts.set(text, name ?? known + 1);
  return name;
}

/** A query as the driver takes it: a text or an object, its values, and who hears the answer (a promise does otherwise). */
type Query = (asked: unknown, values?: unknown, heard?: unknown) => unknown;
type Heard = (error: unknown, result?: unknown) => void;

interface Asked {
  text: string;
  values: readonly unknown[];
}

/**
 * What may be named: a text with values. One without may be several statements, or one of which no plan is made.
 * How rows come and how types are read (`rowMode`, `types`) is kept.
 */
function askedOf(query: unknown, values: unknown): Asked | null {
  const whole = typeof query === 'string' ? { text: query, values } : query;
  if (whole === null || typeof whole !== 'object' || 'submit' in whole) return null;
  const asked = { ...whole, values: (whole as Partial<Asked>).values ?? values };
  const { text, name } = asked as { text?: unknown; name?: unknown };
  if (typeof text !== 'string' || name !== undefined) return null;
  return Array.isArray(asked.values) && asked.values.length > 0 ? (asked as Asked) : null;
}

const isStale = (error: unknown) => {
  const { code } = (error ?? {}) as { code?: unknown };
  return code === noSuchStatement || code === changedResult;
};

/** The names that one connection holds. */
class Names {
  readonly #held = new Set<string>();
  readonly #naming: Naming;
  #generation = 0;

  constructor(naming: Naming) {
    this.#naming = naming;
  }

  of(text: string): string | null {
    const name = nameOf(text, this.#naming);
    if (name === null || (this.#held.size >= this.#naming.mostNames && !this.#held.has(name))) return null;
    this.#held.add(name);
    return `${name}.${this.#generation}`;
  }

  /** What was named before is named anew. */
  forget(): void {
    this.#generation += 1;
    this.#held.clear();
  }
}

/**
 * Has a connection read and plan once what it is asked again and again. Where tables were altered meanwhile, so that a
 * statement gives something else than before, it is asked without its name; within a transaction, which has failed by then,
 * the error is told and the next one goes well.
 */
export function planOnce(client: pg.ClientBase, naming: Naming = { askedBefore, mostNames }): void {
  const plain = client.query.bind(client) as Query;
  const names = new Names(naming);
  const isFree = () =>
    (client as pg.ClientBase & { getTransactionStatus(): string | null }).getTransactionStatus() === 'I';
  const ask = (asked: Asked, name: string, heard: Heard) => {
    const retried: Heard = (error, result) => {
      if (!isStale(error)) return heard(error, result);
      names.forget();
      if (isFree()) plain(asked, undefined, heard);
      else heard(error);
    };
    return plain({ ...asked, name }, undefined, retried);
  };
  const query: Query = (config, values, heard) => {
    const asked = askedOf(config, values);
    const name = asked === null ? null : names.of(asked.text);
    if (asked === null || name === null) return plain(config, values, heard);
    const told = typeof values === 'function' ? values : heard;
    if (typeof told === 'function') return ask(asked, name, told as Heard);
    return new Promise((resolve, reject) =>
      ask(asked, name, (error, result) => (error ? reject(error) : resolve(result))),
    );
  };
  Object.assign(client, { query });
}
