import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { evaluateLatePumps } from '../../src/watch/evaluation/late-pumps.ts';
import type { FeedingFact } from '../../src/watch/facts/types.ts';
import { pumpsStillOff } from '../../src/watch/rules/work/pumps-still-off.ts';
import { addFeeding, notePumpsOn } from '../../src/water/log/feedings.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';
import { blankSystem, dayZero, find, madeId, onDay, reading } from './facts.ts';

const minute = 1 / 1440;
const fed = (day: number, more: Partial<FeedingFact> = {}): FeedingFact => ({
  id: madeId(),
  day: dayZero + day,
  at: onDay(day).toISOString(),
  tankId: null,
  tankName: '',
  food: 'Chopped shrimp',
  pumpsOffMin: 30,
  pumpsOnDay: null,
  ...more,
});
const on = (day: number, ...feedings: FeedingFact[]) => find(pumpsStillOff, blankSystem({ feedings }), day);

describe('pumps off after feeding', () => {
  test('are nobody’s business within their time and five minutes', () => {
    expect(on(34 * minute, fed(0))).toEqual([]);
    expect(on(36 * minute, fed(0, { pumpsOffMin: null }))).toEqual([]);
    expect(on(36 * minute, fed(0, { pumpsOnDay: dayZero + 33 * minute }))).toEqual([]);
  });

  test('call somebody to act now after that, in the tank that was fed', () => {
    const tankId = madeId();
    expect(on(35 * minute, fed(0, { tankId, tankName: 'Tank 2' }))).toMatchObject([
      {
        severity: 'now',
        subject: { type: 'tank', id: tankId },
        title: 'Long run, Tank 2: pumps still off after feeding',
      },
    ]);
    expect(on(35 * minute, fed(0))).toMatchObject([{ subject: { type: 'system' } }]);
  });

  test('of one tank are one finding, however often it was fed', () => {
    expect(on(0.5, fed(0), fed(0.1))).toHaveLength(1);
  });

  test('are told as worse after an hour, four and twelve, not every minute', () => {
    const scores = [1, 50, 91, 200, 271, 500, 751].map((late) => on((30 + late) * minute, fed(0))[0]?.score);
    expect(scores).toEqual([undefined, 1, 2, 2, 4, 4, 8]);
  });

  describe('for hours, once they run again,', () => {
    const long = fed(0, { pumpsOnDay: dayZero + 0.5 });
    const asked = (hours: number, ...tested: number[]) =>
      find(
        pumpsStillOff,
        blankSystem({
          feedings: [long],
          readings: new Map(
            ['ammonia', 'nitrite'].map((code) => [
              code,
              tested.map((hour) => reading(0.5 + hour / 24, 0, 0.05)),
            ]),
          ),
        }),
        0.5 + hours / 24,
      ).map(({ title }) => title);

    test('ask for ammonia and nitrite at once, after a day and after two', () => {
      expect(asked(0.5)).toEqual(['Long run: pumps were off for 12 h; test ammonia and nitrite']);
      expect(asked(1, 0.7)).toEqual([]);
      expect(asked(24.5, 0.7)).toHaveLength(1);
      expect(asked(25, 0.7, 23)).toEqual([]);
      expect(asked(48.5, 0.7, 23)).toHaveLength(1);
      expect(asked(49, 0.7, 23, 48.7)).toEqual([]);
    });

    test('and stop asking when it is over', () => {
      expect(asked(73)).toEqual([]);
    });
  });
});

describe('the pumps’ time on the service', () => {
  let bench: Bench;
  let hand: Visitor;
  let systemId: string;
  beforeAll(async () => {
    bench = await startBench();
    systemId = await makeSystem(bench, 'Shallow');
    hand = await bench.as('hand', 'Bea');
  });
  afterAll(() => bench.close());
  const feed = (at: string, pumpsOffMin: number, where = systemId) => {
    bench.at(at);
    const input = {
      food: 'Shrimp',
      amountG: null,
      tankId: null,
      pumpsOffMin,
      response: '',
      at: new Date(at),
    };
    return bench.change((work) => addFeeding(work, where, input));
  };
  const open = async () =>
    (await openAlerts(bench.service.pool, { systemId })).filter(({ rule }) => rule === 'pumps-still-off');

  test('is kept by a job that came with the feeding, and is due when somebody is to be called', async () => {
    const far = await makeSystem(bench, 'Far ahead');
    const { id } = await feed('2030-01-01T09:00:00Z', 20, far);
    const { rows } = await bench.service.pool.query<{ at: Date }>(
      `SELECT start_after AS at FROM pgboss.job WHERE name = 'evaluate' AND data->>'systemId' = $1 AND start_after > '2029-12-31'`,
      [far],
    );
    expect(rows.map(({ at }) => at.toISOString())).toEqual(['2030-01-01T09:25:00.000Z']);
    await bench.change((work) => notePumpsOn(work, id));
  });

  test('runs out into an alert within a minute, and the alert goes at once when they run', async () => {
    const { id } = await feed('2026-11-24T08:00:00Z', 20);
    const look = async (at: string) => {
      bench.at(at);
      await evaluateLatePumps(bench.service, new Date(at));
      return open();
    };
    expect(await look('2026-11-24T08:20:30Z')).toEqual([]);
    expect(await look('2026-11-24T08:25:30Z')).toMatchObject([{ severity: 'now' }]);
    const before = await bench.service.db.alertEvent.count();
    await look('2026-11-24T08:26:30Z');
    expect(await bench.service.db.alertEvent.count()).toBe(before);
    await bench.change((work) => notePumpsOn(work, id));
    await evaluateSystems(bench.service, [systemId], new Date('2026-11-24T08:27:00Z'));
    expect(await open()).toEqual([]);
  });

  test('stands on every page, with the time left, until somebody says that they run', async () => {
    const { id } = await feed('2026-11-24T10:00:00Z', 20);
    bench.at('2026-11-24T10:08:00Z');
    for (const page of ['/stock', '/water', '/watch']) {
      const { body } = await hand.get(page);
      expect(body, page).toContain('Pumps off in Shallow');
      expect(body, page).toContain('in 12 min');
    }
    bench.at('2026-11-24T10:31:00Z');
    expect((await hand.get('/stock')).body).toMatch(/due on again<\/span>[\s\S]*11 min ago/);
    const answer = await hand.post(`/water/feedings/${id}/pumps`, { back: '/stock' });
    expect(answer.location).toBe('/stock');
    expect((await hand.get('/stock')).body).not.toContain('Pumps off in Shallow');
  });
});
