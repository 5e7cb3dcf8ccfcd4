import type { Visitor } from './service.ts';

/** An address with its ids, codes, names and query values taken out: pages of one kind. */
export const patternOf = (path: string) =>
  path
    .replace(/[0-9a-f]{8}-[0-9a-f-]{27}/g, ':id')
    .replace(/\b[245678FKNRTWY]{3}-[245678FKNRTWY]{3}\b/g, ':code')
    .replace(/\d{4}-\d{2}-\d{2}/g, ':day')
    .replace(/(?<=\/limits\/)[^/?]+\/[^/?]+/, ':rule/:name')
    .replace(/(?<=\/(?:kinds|care)\/)[^/?]+/g, ':name')
    .replace(/=[^&]*/g, '=');

/** The addresses that a page links to, as a browser reads them, but for its own marks. */
export const linksOf = (body: string) =>
  [...body.matchAll(/href="(\/[^"]*)"/g)]
    .map(([, href = '']) => href.replaceAll('&amp;', '&').replaceAll('&#x3D;', '=').replace(/#.*/, ''))
    .filter((href) => !href.startsWith('/assets/'));

/** Pages of one kind differ with what they show; with a query they mostly differ in what is chosen on them. */
const samplesOf = (pattern: string) => (pattern.includes('?') ? 1 : 6);

/** One answer of the walk. */
export interface Walked {
  path: string;
  status: number;
  body: string;
}

/** What is taken away to be kept or printed: it holds no forms, and is dear to make. */
export const files = /\.(csv|json|pdf|png|zip)(\?|$)/;

/**
 * Follows every link from these addresses on, some of each kind; the first addresses are all asked for.
 * @param except links that are not followed
 * @returns the number of kinds of pages
 */
export async function walk(
  visitor: Visitor,
  from: readonly string[],
  look: (answer: Walked) => void,
  except: RegExp | null = null,
): Promise<number> {
  const seen = new Map<string, number>();
  const first = new Set(from);
  const done = new Set<string>();
  const waiting = [...from];
  for (let path = waiting.shift(); path !== undefined; path = waiting.shift()) {
    const pattern = patternOf(path);
    const times = seen.get(pattern) ?? 0;
    if (done.has(path) || (!first.has(path) && times >= samplesOf(pattern))) continue;
    done.add(path);
    seen.set(pattern, times + 1);
    const { status, body } = await visitor.get(path);
    look({ path, status, body });
    waiting.push(...linksOf(body).filter((href) => except?.test(href) !== true));
  }
  return seen.size;
}
