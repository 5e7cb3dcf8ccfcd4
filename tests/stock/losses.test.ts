import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { dayOf, daysBefore } from '../../src/science/numeric/time.ts';
import { lossHistories } from '../../src/stock/losses/history.ts';
import { isAboveUsual, judgeLosses, type LossHistory } from '../../src/stock/losses/usual.rules.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

/** `lots` lots of one kind that stood for `days`; each listed death is of the lot of that number, so many days ago. */
const water = (days: number, lots: number, deaths: readonly [lot: number, ago: number][]): LossHistory => ({
  stays: Array.from({ length: lots }, (_, i) => ({
    ...{ lotId: `lot ${i}`, code: `L${i}`, kindId: i % 2 ? 'odd' : 'even', kindName: i % 2 ? 'Odd' : 'Even' },
    ...{ fromDay: 1000 - days, toDay: null },
  })),
  deaths: deaths.map(([lot, ago], i) => ({
    id: `death ${i}`,
    lotId: `lot ${lot}`,
    day: 1000 - ago,
    pieces: 1,
  })),
});

describe('losses against the own past', () => {
  test('say nothing of a water that has less than eight weeks of past', () => {
    const { all } = judgeLosses(
      water(60, 30, [
        [0, 1],
        [1, 2],
        [2, 3],
        [3, 4],
      ]),
      1000,
    );
    expect(all).toMatchObject({ losing: 4, p: null, usual: null });
    expect(isAboveUsual(all, 0.05)).toBe(false);
  });

  test('are above usual where five of forty lots lose pieces after a year with three', () => {
    const past: [number, number][] = [
      [10, 60],
      [12, 150],
      [14, 300],
    ];
    const { all, kinds } = judgeLosses(
      water(365, 40, [[0, 1], [2, 2], [4, 3], [6, 4], [8, 5], ...past]),
      1000,
    );
    expect(all).toMatchObject({ lots: 40, losing: 5, windows: 25, pastLots: 1000, pastLosing: 3 });
    // Fisher's exact test of 5 of 40 against 3 of 1000, one-sided: scipy 1.17.1, fisher_exact, 3.3680e-6.
    expect(all.p).toBeCloseTo(3.368007e-6, 11);
    expect(isAboveUsual(all, 0.001)).toBe(true);
    expect(kinds).toMatchObject([{ kindId: 'even', losing: 5, lots: 20, pastLots: 500, pastLosing: 3 }]);
  });

  test('count a lot once in two weeks, however often it moved, and not where it was taken away before', () => {
    const { stays, deaths } = water(365, 40, [
      [0, 1],
      [1, 40],
    ]);
    const moved = stays.flatMap((stay, i) => {
      if (i === 0)
        return [
          { ...stay, toDay: 990 },
          { ...stay, fromDay: 990 },
        ];
      return i === 1 ? [{ ...stay, toDay: 965 }] : [stay];
    });
    const { all, kinds } = judgeLosses({ stays: moved, deaths }, 1000);
    // The other 39 lots stand here now and in each of 25 past stretches; the one that went, until the second of them.
    expect(all).toMatchObject({ lots: 39, losing: 1, windows: 25, pastLots: 25 * 39 + 24, pastLosing: 1 });
    expect(kinds.map(({ kindId, codes }) => [kindId, codes])).toEqual([['even', ['L0']]]);
  });

  test('are as usual where as many die in any two weeks, and where one lot loses pieces day after day', () => {
    const always = Array.from({ length: 26 }, (_, week) =>
      [0, 1, 2, 3].map((i): [number, number] => [4 * (week % 10) + i, 14 * week + 3]),
    ).flat();
    expect(isAboveUsual(judgeLosses(water(364, 40, always), 1000).all, 0.05)).toBe(false);
    const one = [1, 2, 3, 4, 5].map((ago): [number, number] => [7, ago]);
    expect(judgeLosses(water(364, 40, one), 1000).all).toMatchObject({ losing: 1, pieces: 5 });
  });

  test('count for less where the past itself came in clumps', () => {
    const clumps = [60, 130, 200, 270].flatMap((ago) =>
      [0, 1, 2, 3, 4, 5].map((i): [number, number] => [i + 8, ago]),
    );
    const { all } = judgeLosses(water(364, 40, [[0, 1], [2, 2], [4, 3], [6, 4], ...clumps]), 1000);
    expect(all.clumping).toBeGreaterThan(2);
    expect(isAboveUsual(all, 0.001)).toBe(false);
  });
});

describe('on the running farm', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  const lots: { id: string; code: string }[] = [];
  const lose = (lot: number, form: Record<string, unknown> = {}) =>
    hand.post(`/lots/${lots[lot]?.id}/ledger`, { reason: 'lost', pieces: '1', ...form });
  const above = async () =>
    (await openAlerts(bench.service.pool, { siteId: shelf.siteId })).filter(
      ({ rule }) => rule === 'losses-above-usual',
    );

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    bench.at('2026-02-01T09:00:00Z');
    shelf = await makeShelf(bench);
    const tenuis = await shelf.kind('acropora-tenuis');
    for (let i = 0; i < 24; i++) {
      const slotIds = [shelf.slot(`${i < 12 ? 'A' : 'B'}${1 + (i % 12)}`)];
      const kind = i < 8 ? { kindId: tenuis } : {};
      lots.push(await shelf.lot({ arrivedAt: new Date('2026-02-01T09:00:00Z'), slotIds, ...kind }));
    }
    bench.at(benchNow);
    hand = await bench.as('hand', 'Nela Brandt');
  });
  afterAll(() => bench.close());

  test('a loss has a cause, from the lot, from a round and for several lots; without a word it is not known', async () => {
    expect((await lose(20, { cause: 'broken', note: 'fell on it', at: '2026-08-03T10:00' })).status).toBe(
      303,
    );
    expect((await lose(21, { at: '2026-09-03T10:00' })).status).toBe(303);
    const odd = await lose(21, { cause: 'boredom' });
    expect(odd.status).toBe(422);
    expect(odd.body).toContain('Choose why it was lost from the list.');
    const { body } = await hand.get('/stock/losses?days=365');
    expect(body).toContain('Broken or fallen');
    expect(body).toMatch(/Not known/);
    expect((await hand.get(`/stock/${lots[20]?.code}`)).body).toContain('1 piece lost: broken or fallen');
  });

  test('no other change of a count has a cause, and a cause alone can be said later', async () => {
    const { pool, db } = bench.service;
    await expect(
      pool.query(
        `INSERT INTO ledger_entry (id, lot_id, at, change, reason, cause) VALUES (gen_random_uuid(), $1, now(), -1, 'sold', 'pest')`,
        [lots[0]?.id],
      ),
    ).rejects.toThrow(/ledger_cause_of_loss/);
    const loss = await db.ledgerEntry.findFirstOrThrow({
      where: { lotId: lots[21]?.id ?? '', reason: 'lost' },
    });
    await expect(pool.query('UPDATE ledger_entry SET change = -3 WHERE id = $1', [loss.id])).rejects.toThrow(
      /append-only/,
    );
    expect((await hand.get(`/stock/losses?days=365&say=${loss.id}`)).body).toContain('Save the cause');
    expect((await hand.post(`/stock/losses/${loss.id}/cause`, { cause: 'overgrown' })).status).toBe(303);
    expect((await hand.get('/stock/losses?days=365')).body).toContain('Overgrown');
    const line = await db.journalLine.findFirstOrThrow({ where: { kind: 'ledger.cause_said' } });
    expect(line.detail).toMatchObject({ before: { cause: 'unknown' }, after: { cause: 'overgrown' } });
    expect((await hand.post(`/stock/losses/${lots[0]?.id}/cause`, { cause: 'pest' })).status).toBe(404);
  });

  test('two losses of one kind say nothing yet; five in a week are an alert on that kind alone, in its figures', async () => {
    for (const i of [0, 1]) await lose(i);
    await evaluateSystems(bench.service, 'all', bench.service.now());
    expect(await above()).toEqual([]);
    // 2 of 8 against 0 of 160: exact p = 28 / 14,028 = 0.002 (hypergeometric). Too few for an alert, and not as usual either.
    const { body: early } = await hand.get('/stock/losses');
    expect(early).toMatch(/2 of 8 lots[\s\S]*?Perhaps more than usual/);
    for (const i of [2, 3, 4]) await lose(i, { cause: 'flesh_gone' });
    await evaluateSystems(bench.service, 'all', bench.service.now());
    const [alert, ...others] = await above();
    expect(others).toEqual([]);
    expect(alert?.title).toContain('Acropora tenuis: more losses than usual');
    expect(alert?.finding.numbers).toContain('5 lots of 8 in two weeks');
    const { body } = await hand.get('/stock/losses');
    expect(body).toContain('More than usual');
    expect(body).toContain('5 of 24 lots');
    expect((await hand.get(`/watch/${alert?.id}`)).body).toContain('See the losses and their causes');
  });

  test('what arrived dead, broke or went astray is no loss of the farm’s; taken as that, the alert ends', async () => {
    const losses = await bench.service.db.ledgerEntry.findMany({
      where: { reason: 'lost', lotId: { in: lots.slice(0, 5).map(({ id }) => id) } },
    });
    for (const { id } of losses) await hand.post(`/stock/losses/${id}/cause`, { cause: 'astray' });
    const later = new Date(bench.service.now().getTime() + 25 * 3_600_000);
    await evaluateSystems(bench.service, 'all', bench.service.now());
    bench.at(later);
    await evaluateSystems(bench.service, 'all', later);
    expect(await above()).toEqual([]);
    expect((await hand.get('/export/losses.csv')).body).toContain('astray');
  });

  test('of lots that were entered today, however long they are said to have stood there, no past is usual', async () => {
    await bench.service.db.lot.updateMany({ data: { createdAt: new Date('2026-11-24T07:00:00Z') } });
    const now = bench.service.now();
    const histories = await lossHistories(bench.service.pool, [shelf.systemId], {
      since: daysBefore(now, 392),
      now,
    });
    const { all } = judgeLosses(histories.get(shelf.systemId) ?? { stays: [], deaths: [] }, dayOf(now));
    expect(all).toMatchObject({ lots: 24, pastLots: 0, windows: 0, usual: null, p: null });
  });
});
