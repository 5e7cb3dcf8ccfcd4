import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateDueBack } from '../../src/watch/evaluation/due-back.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import type { SwitchedOffFact } from '../../src/watch/facts/types.ts';
import { equipmentFault } from '../../src/watch/rules/work/equipment-fault.ts';
import { stillOff } from '../../src/watch/rules/work/still-off.ts';
import { addFeeding, notePumpsOn } from '../../src/water/log/feedings.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';
import { blankSystem, dayZero, find, madeId, onDay, reading } from './facts.ts';

const minute = 1 / 1440;
/** Pumps that went off on a day of the world for half an hour, late five minutes after. */
const off = (day: number, more: Partial<SwitchedOffFact> = {}): SwitchedOffFact => ({
  id: madeId(),
  day: dayZero + day,
  at: onDay(day).toISOString(),
  dueDay: dayZero + day + 30 * minute,
  lateDay: dayZero + day + 35 * minute,
  onDay: null,
  thing: 'all_flow',
  what: 'Pumps',
  why: 'Feeding: chopped shrimp',
  onReturn: 'Water moves in every tank.',
  equipmentId: null,
  feedingId: madeId(),
  tankId: null,
  tankName: '',
  keeper: 'Bea',
  ...more,
});
const on = (day: number, ...switchedOff: SwitchedOffFact[]) =>
  find(stillOff, blankSystem({ switchedOff }), day);

describe('what is off for now', () => {
  test('is nobody’s business within its time, or once it was seen running', () => {
    expect(on(29 * minute, off(0))).toEqual([]);
    expect(on(36 * minute, off(0, { onDay: dayZero + 33 * minute }))).toEqual([]);
  });

  test('is to be looked at today when it is due, and now when it is late, in its tank', () => {
    const tankId = madeId();
    const inTank = off(0, { tankId, tankName: 'Tank 2' });
    expect(on(31 * minute, inTank)).toMatchObject([
      { severity: 'today', subject: { type: 'tank', id: tankId } },
    ]);
    expect(on(35 * minute, inTank)).toMatchObject([
      { severity: 'now', title: 'Long run, Tank 2: pumps still off after feeding' },
    ]);
    expect(on(35 * minute, off(0))).toMatchObject([{ severity: 'now', subject: { type: 'system' } }]);
  });

  test('asks whether a heater is back on once the temperature has turned, and not before', () => {
    const heater = off(0, { thing: 'heating', what: 'Heater left', feedingId: null });
    const asked = (...values: number[]) => {
      const read = values.map((value, i) => reading(10 * i * minute, value, 0.1));
      const facts = blankSystem({ switchedOff: [heater], readings: new Map([['temperature', read]]) });
      return find(stillOff, facts, 60 * minute)[0]?.question ?? '';
    };
    expect(asked(25, 24.6, 24.2)).toBe('');
    expect(asked(25, 24.2, 24.4)).toBe('');
    expect(asked(25, 24.2, 24.6)).toMatch(
      /^Is it back on\? The temperature turned: 24.2 .* 24.6 .*Look at Heater left/,
    );
    expect(asked()).toBe('');
  });

  test('says what it is and why, whatever it is', () => {
    const drain = off(0, { thing: 'valve_open', what: 'Drain', why: 'cleaning', feedingId: null });
    expect(on(40 * minute, drain)).toMatchObject([
      { title: 'Long run: Drain still open (cleaning)', severity: 'now' },
    ]);
    const heater = off(0, {
      thing: 'heating',
      what: 'Heater',
      why: 'cleaning',
      feedingId: null,
      equipmentId: madeId(),
    });
    expect(on(40 * minute, drain, heater).map(({ facet }) => facet)).toEqual([
      'valve_open',
      heater.equipmentId,
    ]);
    expect(on(40 * minute, heater)[0]?.firstStep).toContain('Never switch on a heater that has run dry');
  });

  test('of one tank and thing is one finding, however often it went off', () => {
    expect(on(0.5, off(0), off(0.1))).toHaveLength(1);
  });

  test('is told as worse after an hour, four and twelve, not every minute', () => {
    const scores = [-1, 1, 50, 91, 200, 271, 500, 751].map(
      (late) => on((30 + late) * minute, off(0))[0]?.score,
    );
    expect(scores).toEqual([undefined, 1, 1, 2, 2, 4, 4, 8]);
  });

  describe('if it was all flow for hours, once it runs again,', () => {
    const long = off(0, { onDay: dayZero + 0.5 });
    const asked = (hours: number, tested: readonly number[] = [], one = long) =>
      find(
        stillOff,
        blankSystem({
          switchedOff: [one],
          readings: new Map(
            ['ammonia', 'nitrite'].map((code) => [
              code,
              tested.map((hour) => reading(0.5 + hour / 24, 0, 0.05)),
            ]),
          ),
        }),
        0.5 + hours / 24,
      ).map(({ title }) => title);

    test('asks for ammonia and nitrite at once, after a day and after two', () => {
      expect(asked(0.5)).toEqual(['Long run: pumps were off; test ammonia and nitrite']);
      expect(asked(1, [0.7])).toEqual([]);
      expect(asked(24.5, [0.7])).toHaveLength(1);
      expect(asked(25, [0.7, 23])).toEqual([]);
      expect(asked(48.5, [0.7, 23])).toHaveLength(1);
      expect(asked(49, [0.7, 23, 48.7])).toEqual([]);
    });

    test('and stops asking when it is over; a lamp that was off asks for nothing', () => {
      expect(asked(73)).toEqual([]);
      expect(asked(0.5, [], off(0, { thing: 'light', onDay: dayZero + 0.5 }))).toEqual([]);
    });
  });
});

describe('a fault that somebody noted', () => {
  const fault = (more = {}) => ({
    id: madeId(),
    day: dayZero,
    at: onDay(0).toISOString(),
    mendedDay: null,
    seen: 'fallen off the glass',
    equipmentId: madeId(),
    equipment: 'Left pump',
    kind: 'wave_pump' as const,
    by: 'Bea',
    leftOut: false,
    ...more,
  });
  const told = (...faults: ReturnType<typeof fault>[]) => find(equipmentFault, blankSystem({ faults }), 0.01);

  test.each([
    ['of a pump is for now', {}, 'now'],
    [
      'of something that the books do not have is for now',
      { equipmentId: null, equipment: '', kind: null },
      'now',
    ],
    ['of a skimmer can wait until today', { kind: 'skimmer' }, 'today'],
  ])('%s', (_, more, severity) => expect(told(fault(more))).toMatchObject([{ severity }]));

  test('names the device, what was seen and who saw it; mended, it is no finding', () => {
    const [found] = told(fault());
    expect(found?.title).toBe('Long run, Left pump: fallen off the glass');
    expect(found?.numbers).toContain('by Bea');
    expect(told(fault({ mendedDay: dayZero + 0.005 }))).toEqual([]);
  });
});

describe('the pumps’ time on the service', () => {
  let bench: Bench;
  let hand: Visitor;
  let systemId: string;
  beforeAll(async () => {
    // Judged by hand, each time at the minute it is about.
    bench = await startBench({ watching: false });
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
    (await openAlerts(bench.service.pool, { systemId })).filter(({ rule }) => rule === 'still-off');

  test('is kept by a job that came with the feeding, and is due when somebody is to be called', async () => {
    const far = await makeSystem(bench, 'Far ahead');
    const { id } = await feed('2030-01-01T09:00:00Z', 20, far);
    const { rows } = await bench.service.pool.query<{ at: Date }>(
      `SELECT start_after AS at FROM pgboss.job WHERE name = 'evaluate' AND data->>'systemId' = $1 AND start_after > '2029-12-31'`,
      [far],
    );
    expect(rows.map(({ at }) => at.toISOString()).sort()).toEqual([
      '2030-01-01T09:20:00.000Z',
      '2030-01-01T09:25:00.000Z',
    ]);
    await bench.change((work) => notePumpsOn(work, id));
  });

  test('runs out into an alert within a minute, and the alert goes at once when they run', async () => {
    const { id } = await feed('2026-11-24T08:00:00Z', 20);
    const look = async (at: string) => {
      bench.at(at);
      await evaluateDueBack(bench.service, new Date(at));
      return open();
    };
    expect(await look('2026-11-24T08:19:30Z')).toEqual([]);
    expect(await look('2026-11-24T08:20:30Z')).toMatchObject([{ severity: 'today' }]);
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
    expect((await hand.get('/stock')).body).toMatch(/due back<\/span>[\s\S]*11 min ago/);
    const answer = await hand.post(`/water/feedings/${id}/pumps`, { back: '/stock' });
    expect(answer.location).toBe('/stock');
    expect((await hand.get('/stock')).body).not.toContain('Pumps off in Shallow');
  });
});
