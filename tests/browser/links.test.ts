import { afterAll, beforeAll, expect, test } from 'vitest';
import { type DemoBench, startDemoBench } from '../support/demo-bench.ts';
import { browse } from '../support/service.ts';

let bench: DemoBench;
beforeAll(async () => {
  bench = await startDemoBench();
}, 120_000);
afterAll(() => bench.close());

/** An address with its ids, codes, names and query values taken out: pages of one kind. */
const patternOf = (path: string) =>
  path
    .replace(/[0-9a-f]{8}-[0-9a-f-]{27}/g, ':id')
    .replace(/\b[245678FKNRTWY]{3}-[245678FKNRTWY]{3}\b/g, ':code')
    .replace(/\d{4}-\d{2}-\d{2}/g, ':day')
    .replace(/(?<=\/(?:kinds|care|limits)\/)[^/?]+/g, ':name')
    .replace(/=[^&]*/g, '=');

/** The addresses that a page links to, as a browser reads them, but for its own marks. */
const linksOf = (body: string) =>
  [...body.matchAll(/href="(\/[^"]*)"/g)]
    .map(([, href = '']) => href.replaceAll('&amp;', '&').replaceAll('&#x3D;', '=').replace(/#.*/, ''))
    .filter((href) => !href.startsWith('/assets/'));

/** Pages of one kind differ with what they show; with a query they mostly differ in what is chosen on them. */
const samplesOf = (pattern: string) => (pattern.includes('?') ? 1 : 6);

test('every link that the owner can follow from Today answers', async () => {
  const owner = browse(bench.app);
  await owner.get('/sign-in');
  await owner.post('/sign-in', bench.person('owner'));
  const seen = new Map<string, number>();
  const waiting = ['/'];
  const broken: string[] = [];
  for (let path = waiting.shift(); path !== undefined; path = waiting.shift()) {
    const pattern = patternOf(path);
    const times = seen.get(pattern) ?? 0;
    if (times >= samplesOf(pattern)) continue;
    seen.set(pattern, times + 1);
    const answer = await owner.get(path);
    if (answer.status >= 400) broken.push(`${path}: ${answer.status}`);
    waiting.push(...linksOf(answer.body));
  }
  expect(broken).toEqual([]);
  expect(seen.size).toBeGreaterThan(100);
}, 200_000);
