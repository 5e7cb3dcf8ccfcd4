import type { FastifyRequest } from 'fastify';
import type pg from 'pg';
import { notFound, Refusal } from '../refusal.ts';

/** How things are told from those of other sites; the areas that own them say it. */
export interface SiteThings {
  /** The code that a text stands for, as it is stored; null where it is no code. */
  codeOf(text: string): string | null;
  /** SQL that gives a row where one of the ids `$2` (uuid[]) or of the codes `$3` (text[]) is of a site other than `$1`. */
  elsewhere: string;
  /** The same of the one id `$2` (uuid): pages mostly name one thing, and a plan for one is the same for all. */
  oneElsewhere: string;
}

/** An id, alone or within a longer text: "system:<id>". */
const idInText = /[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}/gi;

/** Longer than any code, however it is typed. */
const longestCode = 60;

/**
 * Keeps a request to its own site: what belongs to another one is not there, wherever the request names it.
 * @throws Refusal 404 where the address names it; 422 where the body does
 */
export async function holdToSite(pool: pg.Pool, things: SiteThings, request: FastifyRequest): Promise<void> {
  if (await isElsewhere(pool, things, request, [request.params, request.query])) throw notFound('This page');
  if (await isElsewhere(pool, things, request, [request.body]))
    throw new Refusal('Something that was named is not at this site. Open the page again.');
}

async function isElsewhere(
  pool: pg.Pool,
  things: SiteThings,
  request: FastifyRequest,
  parts: readonly unknown[],
): Promise<boolean> {
  const texts = [...new Set(textsIn(parts))];
  const ids = [...new Set(texts.flatMap((text) => text.match(idInText) ?? []))];
  const short = texts.filter((text) => text.length <= longestCode);
  const codes = short.map(things.codeOf).filter((code) => code !== null);
  if (ids.length === 0 && codes.length === 0) return false;
  const { rowCount } =
    ids.length === 1 && codes.length === 0
      ? await pool.query(things.oneElsewhere, [request.site.id, ids[0]])
      : await pool.query(things.elsewhere, [request.site.id, ids, codes]);
  return rowCount !== 0;
}

/** Every text in what was sent, names of fields too; lists that stand in one text ("lots=A,B") part by part. */
function textsIn(value: unknown): string[] {
  if (typeof value === 'string') return [value, ...(value.includes(',') ? value.split(',') : [])];
  if (value === null || typeof value !== 'object' || Buffer.isBuffer(value)) return [];
  return Object.entries(value).flatMap(([name, part]) => [name, ...textsIn(part)]);
}
