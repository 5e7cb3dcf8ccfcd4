import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { nextDueDay } from '../../src/water/routines/routines.rules.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from './farm.ts';

// Monday 23 November 2026 and the days around it, as days since 1970 (ISO 8601: Monday is 1).
const day = (date: string) => Date.parse(`${date}T00:00:00Z`) / 86_400_000;

describe('work on Monday and Thursday', () => {
  const cadence = { startsDay: day('2026-11-20'), everyDays: 3.5, weekdays: [1, 4] };
  test.each([
    ['never done, is due on the first of these days', null, '2026-11-23'],
    ['done before its first day, does not count', '2026-11-21', '2026-11-23'],
    ['done on its day, is due on the next', '2026-11-23', '2026-11-26'],
    ['done on the later day, is due on Monday again', '2026-11-26', '2026-11-30'],
    ['done a day late, is due on the next all the same', '2026-11-24', '2026-11-26'],
    ['done a day early, counts for the day to come', '2026-11-25', '2026-11-30'],
    ['done halfway, counts for the day before', '2026-11-28', '2026-11-30'],
    ['done a day before Monday, counts for Monday', '2026-11-29', '2026-12-03'],
  ])('%s', (_, last, due) => {
    expect(nextDueDay(cadence, last === null ? null : day(last))).toBe(day(due));
  });

  test('falls on no other weekday, whenever it was done', () => {
    for (let done = cadence.startsDay; done < cadence.startsDay + 60; done++) {
      const due = nextDueDay(cadence, done);
      expect([1, 4]).toContain(((due + 3) % 7) + 1);
      expect(due).toBeGreaterThan(done);
    }
  });
});

describe('a routine', () => {
  let bench: Bench;
  let manager: Visitor;
  let systemId: string;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    systemId = await makeSystem(bench);
    manager = await bench.as('manager');
  });
  afterAll(() => bench.close());

  const list = () => `/water/systems/${systemId}/routines`;
  const weekly = {
    work: 'test',
    quantityCode: 'alkalinity',
    weekdays: ['1', '4'],
    everyDays: '',
    startsOn: '2026-11-24',
  };

  test('is planned by weekdays, and says which', async () => {
    const { status, body } = await manager.post(list(), weekly);
    expect(status, body).toBe(303);
    const page = (await manager.get(list())).body;
    expect(page).toContain('Monday, Thursday');
    expect(page).toContain('26 Nov');
    expect(page).not.toContain('3.5');
  });

  test('shows its days ticked when it is changed, and keeps the old plan in the history', async () => {
    const { id, version } = await bench.service.db.routine.findFirstOrThrow({ where: { endedAt: null } });
    const { body } = await manager.get(`/water/routines/${id}`);
    expect(body).toMatch(/value="4"[^>]* checked/);
    expect(body).not.toMatch(/value="2"[^>]* checked/);
    const changed = { ...weekly, weekdays: ['2'], version };
    expect((await manager.post(`/water/routines/${id}`, changed)).status).toBe(303);
    const page = (await manager.get(list())).body;
    expect(page).toContain('Tuesday');
    expect(page).toContain('Monday, Thursday <span class="small">ended');
  });

  test('of every so many days is planned as before', async () => {
    const everyTen = { work: 'test', quantityCode: 'nitrate', everyDays: '10', startsOn: '' };
    expect((await manager.post(list(), everyTen)).status).toBe(303);
    expect((await manager.get(list())).body).toContain('every 10 days');
  });

  test.each([
    [
      'neither days nor an interval',
      { weekdays: [], everyDays: '' },
      'Choose the weekdays, or say every how many days',
    ],
    ['both', { weekdays: ['1'], everyDays: '3' }, 'Leave one of the two empty'],
    ['a day that no week has', { weekdays: ['8'], everyDays: '' }, 'Choose from the list'],
  ])('with %s is refused in words', async (_, how, words) => {
    const { status, body } = await manager.post(list(), { ...weekly, quantityCode: 'calcium', ...how });
    expect(status).toBe(422);
    expect(body).toContain(words);
  });

  test('is planned by weekdays over JSON too', async () => {
    const asked = { systemId, work: 'feeding', food: 'fine food', weekdays: [1, 3, 5] };
    const { status, body } = await manager.send('/api/routines', asked);
    expect(status, body).toBe(201);
    expect((await manager.get(list())).body).toContain('Monday, Wednesday, Friday');
  });

  test('the database refuses a weekday that there is not', async () => {
    await expect(bench.service.db.routine.updateMany({ data: { weekdays: [0] } })).rejects.toThrow(
      'routine_weekdays',
    );
  });
});
