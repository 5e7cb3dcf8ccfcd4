import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { watchFigures } from '../../src/alerts/gaps/figures.ts';
import { watchGaps } from '../../src/alerts/gaps/gaps.rules.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import type { Rule } from '../../src/watch/rule-definition/rule.ts';
import { ruleNamed } from '../../src/watch/rules/registry.ts';
import { makeShelf } from '../stock/shelf.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

const minutes = (count: number) => new Date(benchNow.getTime() + count * 60_000);

describe('what the watch did not look at', () => {
  const clock = { timeZone: 'UTC', now: new Date('2026-11-24T08:00:00Z') };
  const at = (time: string) => new Date(`2026-11-24T${time}:00Z`);
  const looked = { broken: [], brokenSince: null };
  const words = (...systems: Parameters<typeof watchGaps>[0]) =>
    watchGaps(systems, (rule) => rule.toUpperCase(), clock);

  test('is nothing where every system was judged within two hours', () => {
    expect(words({ name: 'Long water', judgedAt: at('06:01'), ...looked })).toEqual([]);
    expect(words()).toEqual([]);
  });

  test('is a system that was not judged for two hours: since when, and what to do instead', () => {
    const quiet = { name: 'Quiet water', judgedAt: at('07:59'), ...looked };
    const gaps = words({ name: 'Long water', judgedAt: at('05:07'), ...looked }, quiet);
    expect(gaps).toEqual([
      {
        severity: 'now',
        words:
          'The watch has not looked at Long water since 24 Nov 05:07: what went wrong since then has no alert. Test and look yourself, and have whoever runs the service read its log.',
      },
    ]);
  });

  test('is one sentence for all systems, from the time of the one that waits longest; one that was never looked at is told by itself', () => {
    const still = ['05:07', '04:07'].map((time, i) => ({ name: `Hall ${i}`, judgedAt: at(time), ...looked }));
    expect(words(...still).map((gap) => gap.words)).toEqual([
      expect.stringContaining('has not looked at any system since 24 Nov 04:07'),
    ]);
    const never = words({ name: 'Hall 9', judgedAt: null, ...looked }, ...still.slice(0, 1));
    expect(never.map((gap) => gap.words)).toEqual([
      expect.stringContaining('has not looked at Hall 9 yet: what is wrong there has no alert'),
      expect.stringContaining(
        'has not looked at Hall 0 since 24 Nov 05:07: what went wrong since then has no alert',
      ),
    ]);
  });

  test('names three systems and counts the others', () => {
    const still = [1, 2, 3, 4, 5].map((n) => ({ name: `Hall ${n}`, judgedAt: at('05:07'), ...looked }));
    const gaps = words(...still, { name: 'Hall 6', judgedAt: at('07:59'), ...looked });
    expect(gaps[0]?.words).toContain('Hall 1, Hall 2, Hall 3 and 2 more');
  });

  test('is a rule that broke, since when and where', () => {
    const broken = { broken: ['light-step'], brokenSince: at('06:07') };
    expect(words({ name: 'Long water', judgedAt: at('07:07'), ...broken })).toEqual([
      {
        severity: 'today',
        words:
          'In Long water the watch cannot judge “LIGHT-STEP” since 24 Nov 06:07: the program met a fault. Alerts of it may be missing or out of date. Look for it yourself, and have whoever runs the service read its log.',
      },
    ]);
  });
});

describe('a rule that breaks, and a watch that stands still', () => {
  let bench: Bench;
  let hand: Visitor;
  let rule: Rule;

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    await makeShelf(bench);
    hand = await bench.as('hand', 'Tomas');
    const found = ruleNamed('condition-noted');
    if (found === undefined) throw new Error('no such rule');
    rule = found;
  });
  afterAll(() => bench.close());

  const textOf = async (path: string) =>
    (await hand.get(path)).body.replace(/<[^>]+>/g, ' ').replace(/\s+/g, ' ');
  const unwatched = async () => JSON.parse((await hand.get('/api/alerts')).body).unwatched;
  const waterPage = async () => `/water/systems/${(await bench.service.db.system.findFirstOrThrow()).id}`;
  const figures = async (now: Date) =>
    (await watchFigures(bench.service.pool, now)).map(({ values }) => values[0]?.value);

  const judge = async (at: Date, isBroken: boolean) => {
    bench.at(at);
    const spy = vi.spyOn(rule, 'evaluate');
    if (isBroken)
      spy.mockImplementation(() => {
        throw new RangeError('18 is outside 0 to 17');
      });
    try {
      await evaluateSystems(bench.service, 'all', at).catch((error: unknown) => {
        if (!isBroken) throw error;
      });
    } finally {
      spy.mockRestore();
    }
  };

  test('are told on Today, among the alerts, to programs and in the figures, and go when all is judged again', async () => {
    await judge(minutes(0), false);
    expect(await textOf('/')).not.toContain('the watch cannot');
    expect(await unwatched()).toEqual([]);

    await judge(minutes(60), true);
    await judge(minutes(120), true);
    const told = `In Quiet water the watch cannot judge “${rule.heading}” since 24 Nov`;
    for (const path of ['/', '/watch']) expect(await textOf(path), path).toContain(told);
    expect(await textOf('/')).not.toContain('A quiet day');
    const page = await waterPage();
    for (const path of ['/water', page])
      expect(await textOf(path), path).toMatch(/the watch cannot judge all of it/i);
    expect(await unwatched()).toMatchObject([{ severity: 'today' }]);
    const { rows } = await bench.service.pool.query('SELECT judged_at, broken_since FROM system_watch');
    expect(rows).toEqual([{ judged_at: minutes(120), broken_since: minutes(60) }]);
    expect(await figures(minutes(121))).toEqual([60, 1]);

    await judge(minutes(180), false);
    expect(await textOf('/watch')).not.toContain('the watch cannot');
    bench.at(minutes(301));
    for (const path of ['/', '/watch'])
      expect(await textOf(path), path).toContain('The watch has not looked at Quiet water since');
    for (const path of ['/water', await waterPage()]) {
      expect(await textOf(path), path).toMatch(/not watched since/i);
      expect(await textOf(path), path).not.toMatch(/\bquiet\b|No alerts\./);
    }
    expect(await textOf('/water')).toContain('The watch did not look at all of them.');
    expect(await figures(minutes(301))).toEqual([121 * 60, 0]);
    expect(await textOf('/watch')).not.toContain('No alerts. ');
  });

  test('are in the digest, which then calls nothing quiet', async () => {
    const manager = await bench.as('manager', 'Ines');
    bench.at(minutes(301));
    expect((await manager.post('/digest', {})).status).toBeLessThan(400);
    const page = (await manager.get('/digest')).body.replace(/<[^>]+>/g, ' ').replace(/\s+/g, ' ');
    expect(page).toContain('The watch has not looked at Quiet water since');
    expect(page).not.toMatch(/Nothing to decide today|is quiet/);
  });
});
