import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { calendarFile } from '../../src/platform/words/calendar-file.ts';
import { alike, arrivalWarnings } from '../../src/tags/public/arrival.rules.ts';
import { buyersPlan, type Height } from '../../src/tags/public/plan.rules.ts';
import { planLines } from '../../src/tags/public/plan-lines.ts';
import type { TagRecord } from '../../src/tags/record/record.ts';
import { labelFacts } from '../../src/tags/record/record-words.ts';
import { waterChanges } from '../../src/tags/record/water-change.rules.ts';

const tested = (median: number, around: number) => ({
  ...{ median, latest: median, low: median - around, high: median + around },
  ...{ tests: 6, belowDetection: 0, doubt: '', from: '2026-11-02', to: '2026-11-30' },
});

// 90 umol/(m2 s) over 10 h is 90 x 10 x 3600 / 1e6 = 3.24 mol/(m2 d); 240 over 10 h is 8.64 (arithmetic).
const record = {
  format: 'evenwater-care-record/4',
  lot: 'R46-TKR',
  light: {
    par: 90,
    dailyLight: 3.24,
    accustomed: 3.24,
    hours: 10,
    estimated: false,
    measuredOn: null,
    spans: [{ days: 30, dailyLight: 3.24, parLow: 90, parHigh: 90, knownFrom: '2026-10-25' }],
  },
  water: [
    { ...tested(3, 0.1), quantity: 'alkalinity', name: 'Alkalinity', unit: 'meq/L', decimals: 2 },
    { ...tested(35, 0.2), quantity: 'salinity', name: 'Salinity', unit: 'PSU', decimals: 1 },
    { ...tested(77, 0.5), quantity: 'temperature', name: 'Temperature', unit: 'degF', decimals: 1 },
  ],
  care: {
    parLow: 50,
    parHigh: 150,
    parCeiling: 200,
    stepRatio: 1.2,
    dwellDays: 7,
    adaptationDays: 14,
    feeding: '',
  },
} as unknown as TagRecord;
const tank: Height[] = [
  { name: 'top', par: 240 },
  { name: 'middle', par: 140 },
  { name: 'bottom', par: 40 },
];

describe('the plan for a buyer’s tank', () => {
  test('aims at the height that suits the kind and asks for the least change, never at one above its ceiling', () => {
    const plan = buyersPlan(record, { heights: tank, hours: 10 });
    expect(plan.kind).toBe('steps');
    const lines = planLines(plan, '2026-12-01');
    expect(lines.at(-1)?.what).toContain('about 140');
    expect(lines.at(-1)?.what).toContain('to stay');
    expect(lines[0]?.when).toContain('from 1 Dec 2026');
  });

  test('names a real height for every step, and how far its light is to be brought down', () => {
    const plan = buyersPlan(record, { heights: [{ name: 'bottom', par: 180 }], hours: 10 });
    const [first] = planLines(plan, null);
    // The first step is at most 1.2 times 90 = 108 of 180: 60 %.
    expect(first?.what).toMatch(
      /^at the bottom, about (9|10)\d, with the light there brought down to (55|60) %/,
    );
  });

  test('of a light that no measured height has leads between two of them, never to one that has it not', () => {
    const heights = [
      { name: 'middle', par: 150 },
      { name: 'bottom', par: 50 },
    ];
    const lines = planLines(buyersPlan(record, { heights, hours: 10 }), null);
    expect(lines[0]?.what).toMatch(/^between the bottom and the middle, where it is about (9|10)\d$/);
    expect(lines.at(-1)?.what).toBe('at the middle, about 150, to stay');
    const dim = planLines(buyersPlan(record, { heights: [{ name: 'bottom', par: 50 }], hours: 10 }), null);
    expect(dim[0]?.what).toMatch(/^at the bottom, the brightest place \(about 50\); 7\d would be gentler/);
  });

  test('of any tank never steps further than the kind’s ratio from what the piece is used to by then', () => {
    const height = fc.record({
      name: fc.constant('place'),
      par: fc.double({ min: 20, max: 600, noNaN: true }),
    });
    let judged = 0;
    fc.assert(
      fc.property(
        fc.array(height, { minLength: 1, maxLength: 3 }),
        fc.double({ min: 4, max: 14, noNaN: true }),
        (heights, hours) => {
          const plan = buyersPlan(record, { heights, hours });
          if (plan.kind === 'unknown' || plan.kind === 'as-it-is') return;
          let accustomed = 3.24;
          let [day, light] = [0, 3.24];
          for (const step of plan.steps) {
            judged++;
            accustomed = light + (accustomed - light) * Math.exp(-(step.fromDay - day) / 14);
            light = step.par * hours * 0.0036;
            day = step.fromDay;
            // Steps are said in whole units of PAR: half a unit, and what that does to what it is used to.
            const hair = 1.2 * hours * 0.0036;
            expect(light).toBeLessThanOrEqual(accustomed * 1.2 + hair);
            expect(light).toBeGreaterThanOrEqual(accustomed / 1.2 - hair);
          }
        },
      ),
      { numRuns: 100 },
    );
    // Most tanks are unlike what it is used to: a property of no step at all would hold of nothing.
    expect(judged).toBeGreaterThan(100);
  });

  test('says plainly when every place is too bright', () => {
    const plan = buyersPlan(record, { heights: [{ name: 'bottom', par: 400 }], hours: 10 });
    expect(plan).toMatchObject({ kind: 'too-bright', ceiling: 200 });
  });
});

describe('what matters on arrival', () => {
  test('is compared in the buyer’s units, whatever the farm’s are', () => {
    // 3 meq/L is 8.4 dKH; 77 degF is 25 degC.
    expect(arrivalWarnings(record, { alkalinityDkh: 8.4, salinityPsu: 35, temperatureC: 25 })).toEqual([]);
    expect(arrivalWarnings(record, { alkalinityDkh: 10.4 })).toEqual([
      expect.stringContaining('2.0 dKH higher'),
    ]);
    expect(alike(record, { alkalinityDkh: 8.4, salinityPsu: 33, temperatureC: 25 })).toEqual([
      'temperature',
      'alkalinity',
    ]);
    expect(arrivalWarnings(record, { salinityPsu: 33 })).toEqual([expect.stringContaining('2.0 less salty')]);
    expect(arrivalWarnings(record, { temperatureC: 22 })).toEqual([expect.stringContaining('3.0 °C cooler')]);
  });

  // 1 meq/L is 2.8 dKH (Dickson 1992, as the handbooks of the trade have it): 4.21 meq/L is 11.8 dKH, 2.93 is 8.2.
  describe('out of water that had just changed', () => {
    const alkalinity = (more: object) =>
      ({
        ...record,
        water: [
          {
            ...{ ...tested(8.2, 0.2), high: 11.9, quantity: 'alkalinity', name: 'Alkalinity', unit: 'dKH' },
            ...{ decimals: 1, ...more },
          },
        ],
      }) as unknown as TagRecord;
    const jumped = alkalinity({ latest: 11.8 });

    test('is far from a tank that is like it mostly was, and is near none', () => {
      expect(arrivalWarnings(jumped, { alkalinityDkh: 8 })).toEqual([
        expect.stringContaining('3.8 dKH lower than at their last test'),
      ]);
      expect(arrivalWarnings(jumped, { alkalinityDkh: 11.8 })).toEqual([
        expect.stringContaining('3.6 dKH higher than it mostly was'),
      ]);
      for (const alkalinityDkh of [8, 10, 11.8]) expect(alike(jumped, { alkalinityDkh })).toEqual([]);
    });

    test('says so before anything was asked, on the label, and in the record', () => {
      expect(waterChanges(jumped)).toEqual([
        'Its water changed before the tag was issued: alkalinity was 11.8 dKH at the last test on 30 Nov 2026, and mostly 8.2 dKH in the 30 days.',
      ]);
      expect(waterChanges(record)).toEqual([]);
      const water = { label: 'Water', text: 'Alk 11.8 dKH, mostly 8.2' };
      const rest = {
        flow: null,
        feeding: { times: 0, days: 30 },
        cut: null,
        descent: [],
        sizeMm: null,
        permit: '',
        condition: null,
        issuedAt: '2026-11-30T10:00:00.000Z',
        arrivedAt: '2026-06-01T10:00:00.000Z',
      };
      expect(labelFacts({ ...jumped, ...rest } as unknown as TagRecord)).toContainEqual(
        expect.objectContaining(water),
      );
    });

    test('is near nothing while a later test waits for a repeat, or its kit is in doubt', () => {
      const waits = alkalinity({ waiting: 11.9 });
      expect(waterChanges(waits)[0]).toContain('A later test of alkalinity read 11.9 dKH and still waited');
      expect(alike(waits, { alkalinityDkh: 8 })).toEqual([]);
      expect(alike(alkalinity({ waiting: 8.4 }), { alkalinityDkh: 8 })).toEqual(['alkalinity']);
      expect(alike(alkalinity({ doubt: 'It is being checked' }), { alkalinityDkh: 8 })).toEqual([]);
    });

    test('of a record that does not say the last test may have come from its highest or lowest', () => {
      expect(alike(alkalinity({ latest: undefined }), { alkalinityDkh: 8 })).toEqual([]);
      expect(alike(alkalinity({ latest: undefined, high: 8.4 }), { alkalinityDkh: 8 })).toEqual([
        'alkalinity',
      ]);
    });
  });

  // Published transport experiment, W. Indian Ocean J. Mar. Sci. 20 (2021) 81: below 20 h with oxygen safe, partial
  // death in all past 48 h; the share of toxic ammonia rises from 1.1 % at pH 7.3 to 8 % at 8.2.
  test('after a long way in the bag is no long drip, and past two days the seller is told', () => {
    expect(arrivalWarnings(record, { hoursInBag: 18 })).toEqual([]);
    expect(arrivalWarnings(record, { hoursInBag: 26 })[0]).toContain('no long drip');
    const far = arrivalWarnings(record, { hoursInBag: 26, salinityPsu: 33 });
    expect(far[1]).toContain('at once into a tub of clean salt water of 35.0 PSU');
    expect(arrivalWarnings(record, { hoursInBag: 50 })[0]).toContain('tell the seller today');
  });
});

// RFC 5545: CRLF line ends, lines of at most 75 octets, whole days end on the next day.
test('the calendar file has whole days that any calendar takes in', () => {
  const days = [
    {
      ...{ uid: 'AbC-0', when: { day: '2026-12-31' }, description: 'ä'.repeat(90) },
      title: 'R46-TKR: at the middle, about 140; to stay',
    },
  ];
  const file = calendarFile({ product: 'Care plan' }, days, new Date('2026-11-24T08:00:00Z'));
  const lines = file.split('\r\n');
  expect(file.endsWith('END:VCALENDAR\r\n')).toBe(true);
  for (const line of lines) expect(Buffer.byteLength(line)).toBeLessThanOrEqual(75);
  expect(lines).toContain('DTSTART;VALUE=DATE:20261231');
  expect(lines).toContain('DTEND;VALUE=DATE:20270101');
  expect(lines).toContain('SUMMARY:R46-TKR: at the middle\\, about 140\\; to stay');
});
