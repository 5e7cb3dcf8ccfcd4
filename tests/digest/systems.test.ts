import { describe, expect, test } from 'vitest';
import { lead, notDoneLines, stockLines } from '../../src/digest/content.rules.ts';
import type { DigestSystemFacts } from '../../src/digest/facts.ts';
import { systemWords } from '../../src/digest/systems.rules.ts';
import type { PlannedRound } from '../../src/rounds/schedule/schedule.ts';
import { dayOf } from '../../src/science/numeric/time.ts';
import type { HistoryPoint } from '../../src/water/overview/overview.ts';
import type { Quantity } from '../../src/water/quantities/quantities.ts';
import { type SystemState, untestedBriefly } from '../../src/water/systems/state.rules.ts';

const now = new Date('2026-11-24T06:30:00Z');
const day = 86_400_000;

const alkalinity: Quantity = {
  code: 'alkalinity',
  name: 'Alkalinity',
  position: 1,
  canonicalUnit: 'meq/L',
  displayUnit: 'dKH',
  decimals: 1,
  plausibleLow: 1.8,
  plausibleHigh: 4.7,
  possibleLow: 0,
  possibleHigh: 20,
  source: 'made up',
};

/** A test a day until yesterday, dKH, of a kit good for 0.1 dKH. */
const tested = (...dkh: number[]): HistoryPoint[] =>
  dkh.map((value, i) => ({
    systemId: 'a',
    quantityCode: 'alkalinity',
    at: new Date(now.getTime() - (dkh.length - i) * day),
    value: value / 2.8,
    above: false,
    below: false,
    uncertainty: 0.1 / 2.8,
    kitId: null,
    trust: 'plain',
  }));

const clock = { timeZone: 'UTC', now };
const state = (known: Partial<SystemState> = {}): SystemState => ({
  id: 'a',
  name: 'Long run',
  alerts: 0,
  putOff: [],
  tested: new Date(now.getTime() - day),
  ...known,
});

const system = (points: HistoryPoint[], more: Partial<DigestSystemFacts> = {}): DigestSystemFacts => ({
  id: 'a',
  name: 'Long run',
  state: state(),
  latest: points.slice(-1).map(({ quantityCode, value }) => ({
    systemId: 'a',
    quantityCode,
    value,
    below: false,
    above: false,
    unconfirmed: false,
  })),
  alkalinity: points,
  forecast: {
    readings: points.map(({ at, value, below, uncertainty, kitId, trust }) => ({
      ...{
        day: dayOf(at),
        value,
        u: uncertainty,
        below,
        confirmed: trust === 'confirmed',
        step: null,
        kitId,
      },
    })),
    nitrate: null,
    events: [],
  },
  events: [],
  band: null,
  ...more,
});

describe('one line on a system', () => {
  test('says that steady water is steady, and nothing of where it is heading', () => {
    const { words } = systemWords(
      system(tested(8.3, 8.2, 8.3, 8.3, 8.2, 8.3, 8.2, 8.3)),
      [alkalinity],
      clock,
    );
    expect(words).toBe('quiet; 8.3 dKH, swung 0.1 in 7 d, steady');
  });

  test.each([
    ['a put-off alert', { putOff: [new Date('2026-12-01T05:00:00Z')] }, '1 put off until Tuesday 1 December'],
    [
      'several, and one that is open',
      { alerts: 1, putOff: [new Date('2026-12-01T05:00:00Z'), new Date('2026-12-09T05:00:00Z')] },
      '1 open alert, 2 put off, the next until Tuesday 1 December',
    ],
    ['no test ever', { tested: null }, 'water never tested'],
    ['no test of late', { tested: new Date('2026-11-03T08:00:00Z') }, 'water not tested since 3 Nov 2026'],
  ])('is not quiet with %s', (_, known, words) => {
    expect(systemWords(system([], { state: state(known) }), [alkalinity], clock).words).toBe(words);
    const stock = { pieces: 0, lots: 0, changes: [], losing: [], causes: [], recovered: [], freed: [] };
    expect(lead([system([], { state: state(known) })], stock, clock)).not.toContain('quiet');
  });

  test('a system of which only two quantities were tested is not quiet: it says which were not', () => {
    const ago = (days: number) => new Date(now.getTime() - days * day);
    const tests = [
      { name: 'Alkalinity', at: ago(1) },
      { name: 'Calcium', at: ago(20) },
      { name: 'Magnesium', at: ago(20) },
      { name: 'Nitrate', at: ago(2) },
      { name: 'Phosphate', at: null },
    ];
    const { words } = systemWords(system([], { state: state({ tests }) }), [alkalinity], clock);
    expect(words).toBe('calcium and magnesium not tested for 14 days, phosphate never tested');
    expect(untestedBriefly(state({ tests }), clock)).toBe('3 tests missing');
    expect(untestedBriefly(state({ tests: tests.slice(3) }), clock)).toBe('phosphate never tested');
  });

  test('says where the water will be in a week when it moves one way', () => {
    const falling = tested(9.2, 9.1, 8.9, 8.8, 8.6, 8.5, 8.3, 8.2, 8.0, 7.9);
    expect(systemWords(system(falling, { state: state({ alerts: 1 }) }), [alkalinity], clock).words).toMatch(
      /^1 open alert; 7\.9 dKH, falls steadily by 0\.15 dKH a day for 9 days, falling to about [67]\.\d dKH in a week$/,
    );
  });

  test('says of a value that nobody repeated yet that it is not confirmed', () => {
    const latest = [
      {
        systemId: 'a',
        quantityCode: 'alkalinity',
        value: 11 / 2.8,
        below: false,
        above: false,
        unconfirmed: true,
      },
    ];
    expect(systemWords(system([], { latest }), [alkalinity], clock).words).toBe(
      'quiet; 11.0 dKH, not yet confirmed',
    );
  });
});

test('keeps a bound a bound, and does not call water that only a thermometer saw never tested', () => {
  const latest = [
    {
      systemId: 'a',
      quantityCode: 'alkalinity',
      value: 8 / 2.8,
      below: false,
      above: true,
      unconfirmed: false,
    },
  ];
  expect(systemWords(system([], { latest }), [alkalinity], clock).words).toBe('quiet; > 8.0 dKH');
  const { words: read } = systemWords(
    system([], { state: state({ tested: null, read: true }) }),
    [alkalinity],
    clock,
  );
  expect(read).toBe('alkalinity, calcium and nutrients never tested');
});

describe('what was not done yesterday', () => {
  const round = (more: Partial<PlannedRound>) =>
    ({
      name: 'Morning walk',
      assignee: 'Ana',
      steps: ['look'],
      racks: 5,
      looked: 5,
      ...more,
    }) as PlannedRound;
  test('is what nobody walked, what was never finished, and racks that were passed by', () => {
    const rounds = [
      round({ state: 'finished' }),
      round({ state: 'finished', looked: 3 }),
      round({ state: 'unfinished', looked: 2, assignee: null }),
      round({ state: 'missed', looked: 0 }),
    ];
    expect(notDoneLines(rounds)).toEqual([
      'Morning walk (Ana): 2 racks not looked at',
      'Morning walk: begun, 2 of 5 racks looked at',
      'Morning walk (Ana): nobody walked it',
    ]);
  });
});

describe('the stock', () => {
  test('names the lots that lost pieces', () => {
    const facts = { pieces: 10, lots: 2, recovered: ['C'], freed: [12] };
    const changes = [
      { reason: 'lost' as const, pieces: -3 },
      { reason: 'sold' as const, pieces: -1 },
    ];
    const causes = [
      { cause: 'flesh_gone' as const, pieces: 2 },
      { cause: 'unknown' as const, pieces: 1 },
    ];
    expect(stockLines({ ...facts, changes, causes, losing: ['A', 'B'] })).toEqual([
      '3 pieces lost: A and B; cause: lost its flesh 2, not known 1',
      '1 piece sold',
      'C looks well again',
      'No longer held, the day is over: order 12',
    ]);
  });
});
