import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { afterTheWatch } from '../../src/digest/after-the-watch.ts';
import { changes, dueLines, headline, lateWords, lead } from '../../src/digest/content.rules.ts';
import type { DigestAlert } from '../../src/digest/content.ts';
import { makeDigest, makeDueDigests } from '../../src/digest/digests.ts';
import { digestText } from '../../src/digest/text.ts';
import type { DueTask } from '../../src/farm/tasks/due-task.ts';
import { type Bench, startBench } from '../support/service.ts';

const alert = (severity: DigestAlert['severity'], id = severity): DigestAlert => ({
  id,
  severity,
  title: `An alert to ${severity}`,
  numbers: '21 against 15 mg/L',
  why: 'It matters.',
  firstStep: 'Do this.',
  explains: 0,
});

describe('the headline', () => {
  test.each([
    [[], 'Nothing to decide today'],
    [['watch'], 'Nothing to decide today'],
    [['now'], 'One thing now'],
    [['today'], 'One thing today'],
    [['now', 'today'], 'Two things today, one of them now'],
    [['now', 'now', 'today', 'today', 'today'], 'Five things today, two of them now'],
  ] as const)('of %j is %s', (severities, expected) => {
    expect(headline(severities.map((severity) => alert(severity)))).toBe(expected);
  });

  test('says first that something is wrong now, and never that there is nothing to decide', () => {
    expect(headline([], { isWrong: true })).toBe('Something is wrong now');
    expect(headline([alert('now'), alert('today')], { isWrong: true })).toBe(
      'Something is wrong now, and two things today, one of them now',
    );
  });
});

describe('what is told of a change', () => {
  test('is the last of each alert, and not what stands above as open', () => {
    const events = [
      { alertId: 'a', kind: 'opened', title: 'A' },
      { alertId: 'b', kind: 'opened', title: 'B' },
      { alertId: 'b', kind: 'cleared', title: 'B' },
      { alertId: 'c', kind: 'worse', title: 'C' },
      { alertId: 'c', kind: 'seen', title: 'C' },
    ];
    expect(changes(events, [alert('now', 'a' as never), alert('today', 'c' as never)])).toEqual([
      { kind: 'Cleared', title: 'B', alertId: 'b' },
      { kind: 'Worse', title: 'C', alertId: 'c' },
    ]);
  });
});

describe('words', () => {
  test('on stock say more or fewer than yesterday', () => {
    const stock = {
      pieces: 1148,
      lots: 260,
      changes: [{ reason: 'sold' as const, pieces: -2 }],
      losing: [],
      causes: [],
      recovered: [],
      freed: [],
    };
    expect(lead([], stock, { timeZone: 'UTC', now: new Date('2026-11-24T08:00:00Z') })).toBe(
      '1,148 pieces in 260 lots, 2 fewer than yesterday.',
    );
  });

  test('on due work are one line a system: tests as a number, the rest by name, with what is held back or overdue', () => {
    const task = (work: DueTask['work'], title: string, more: Partial<DueTask> = {}): DueTask => ({
      ...{
        key: title,
        work,
        systemId: 'a',
        systemName: 'Long run',
        title,
        detail: [],
        cautions: [],
        held: null,
      },
      ...{ dueOn: '2026-11-24', overdueDays: 0, done: false, href: '', ...more },
    });
    const tasks = [
      task('test', 'Test alkalinity'),
      task('test', 'Test nitrate'),
      task('test', 'Test calcium', { done: true }),
      task('water_change', 'Change 180 L of water', { overdueDays: 2 }),
      task('correction', 'Add 24 g of sodium bicarbonate', { held: 'test again first' }),
    ];
    expect(dueLines(tasks, ['b', 'a'])).toEqual([
      {
        ...{ at: '', where: 'Long run', who: '', href: '/water/systems/a' },
        short: '2 tests, 1 water change, 1 correction, 1 overdue',
        count: 4,
        what: 'Change 180 L of water (2 days overdue); Add 24 g of sodium bicarbonate (held back: test again first); 2 tests',
      },
    ]);
  });

  test('on lateness come only after a quarter of an hour', () => {
    const due = new Date('2026-11-24T06:30:00Z');
    expect(lateWords(due, new Date('2026-11-24T06:40:00Z'), '06:30')).toBe('');
    expect(lateWords(due, new Date('2026-11-24T09:10:00Z'), '06:30')).toContain('2 h 40 min later');
  });
});

describe('a digest', () => {
  let bench: Bench;
  let siteId: string;
  beforeAll(async () => {
    bench = await startBench();
    const site = await bench.service.db.site.create({
      data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon', digestAt: '06:30' },
    });
    siteId = site.id;
    await bench.service.db.system.create({ data: { siteId, name: 'Long run', volumeL: 1840 } });
  });
  afterAll(() => bench.close());

  test('is not made before its hour, and once after it, however many instances ask', async () => {
    const { db } = bench.service;
    await db.digest.deleteMany();
    expect(await makeDueDigests(bench.service, new Date('2026-11-24T06:29:00Z'))).toBe(0);
    const at = new Date('2026-11-24T06:31:00Z');
    await Promise.all([
      makeDueDigests(bench.service, at),
      makeDueDigests(bench.service, at),
      makeDigest(bench.service, siteId, at),
    ]);
    expect(await db.digest.count()).toBe(1);
  });

  // Lisbon: clocks go forward on 29 March 2026 at 01:00 UTC and back on 25 October 2026 at 01:00 UTC (IANA tz database).
  test.each([
    ['2026-03-28', '2026-03-28T06:30:00Z'],
    ['2026-03-29', '2026-03-29T05:30:00Z'],
    ['2026-10-24', '2026-10-24T05:30:00Z'],
    ['2026-10-25', '2026-10-25T06:30:00Z'],
  ])('is due on %s at %s, by the site s clock', async (_, due) => {
    await bench.service.db.digest.deleteMany();
    const at = new Date(due);
    expect(await makeDueDigests(bench.service, new Date(at.getTime() - 60_000))).toBe(0);
    expect(await makeDueDigests(bench.service, at)).toBe(1);
  });

  test('waits after an outage for the first look of the watch, though no longer than ten minutes', async () => {
    const { db, pool } = bench.service;
    const { id } = await db.system.findFirstOrThrow({ where: { siteId } });
    const judged = (at: string) =>
      pool.query(
        `INSERT INTO system_watch (system_id, judged_at, broken) VALUES ($1, $2, '{}')
             ON CONFLICT (system_id) DO UPDATE SET judged_at = excluded.judged_at`,
        [id, at],
      );
    await judged('2026-11-22T20:00:00Z');
    const canBeMade = afterTheWatch();
    expect(await canBeMade(pool, new Date('2026-11-24T07:00:00Z'))).toBe(false);
    expect(await canBeMade(pool, new Date('2026-11-24T07:09:00Z'))).toBe(false);
    expect(await canBeMade(pool, new Date('2026-11-24T07:10:00Z'))).toBe(true);
    await judged('2026-11-24T07:01:00Z');
    expect(await afterTheWatch()(pool, new Date('2026-11-24T07:02:00Z'))).toBe(true);
    await pool.query('DELETE FROM system_watch');
  });

  test('made late says so', async () => {
    await bench.service.db.digest.deleteMany();
    await makeDueDigests(bench.service, new Date('2026-11-24T09:00:00Z'));
    const digest = await makeDigest(bench.service, siteId, new Date('2026-11-24T09:00:00Z'));
    expect(digest.content.late).toContain('2 h 30 min later');
  });

  test('of a farm that was set up after its hour is made the next morning', async () => {
    const { db } = bench.service;
    await db.digest.deleteMany();
    await db.site.update({ where: { id: siteId }, data: { createdAt: new Date('2026-11-24T17:00:00Z') } });
    expect(await makeDueDigests(bench.service, new Date('2026-11-24T17:30:00Z'))).toBe(0);
    expect(await makeDueDigests(bench.service, new Date('2026-11-25T06:31:00Z'))).toBe(1);
  });

  test('of a farm that is still to be set up is short, as a page, as text and as JSON', async () => {
    await bench.service.db.digest.deleteMany();
    const digest = await makeDigest(bench.service, siteId, new Date('2026-11-24T06:30:00Z'));
    const text = digestText(bench.service, { timeZone: 'Europe/Lisbon' }, digest);
    expect(text).toContain('The farm is still to be set up');
    expect(text).toContain('Long run: water never tested');
    expect(text.split('\n').length).toBeLessThan(20);
    const manager = await bench.as('manager');
    expect((await manager.get('/digest')).body).toContain('The farm is still to be set up');
    const json = (await manager.get('/api/digests/2026-11-24', { accept: 'application/json' })).json();
    expect(json).toMatchObject({ site: 'Saltgate Yard', day: '2026-11-24', alerts: [] });
    expect((await manager.get('/digest/2020-01-01')).status).toBe(404);
  });
});
