import { describe, expect, test } from 'vitest';
import { convert, convertDifference } from '../../src/science/units/convert.ts';
import type { CorrectionFact, KeptFact, ReadingFact, SystemFacts } from '../../src/watch/facts/types.ts';
import { outOfBand } from '../../src/watch/rules/bands/out-of-band.ts';
import { calmWater, knownOn } from './calm-water.ts';
import { blankKit, blankSystem, dayZero, find, firing, madeId, reading } from './facts.ts';

const dkh = (value: number) => convert('alkalinity', value, 'dKH', 'meq/L');
const perDkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
const band = (
  bandLow: number | null,
  bandHigh: number | null,
  limitHigh: number | null = null,
): KeptFact => ({
  bandLow,
  bandHigh,
  limitHigh,
  makeUp: null,
  source: 'house rule',
});

const kept = new Map([
  ['alkalinity', band(dkh(7), dkh(10))],
  ['calcium', band(380, 450)],
  ['salinity', band(34, 36)],
  ['temperature', band(24, 28)],
  ['phosphate', band(0.01, 0.1, 0.3)],
]);

type Levels = Record<string, { u: number; gap?: number; level: (day: number) => number }>;

/** A system tested over `days` without error but for a small wave, so that nothing is exact by accident. */
function tested(days: number, levels: Levels, more: Partial<SystemFacts> = {}) {
  const readings = Object.entries(levels).map(([code, { u, gap = 1, level }]) => {
    const own: ReadingFact[] = [];
    for (let day = 0; day < days; day += gap)
      own.push(reading(day, level(day) + 0.3 * u * Math.sin(2.4 * day), u));
    return [code, own] as const;
  });
  return blankSystem({ kept, readings: new Map(readings), ...more });
}

const flat = (value: number) => () => value;
const calcium = (value: number) => ({ u: 10, gap: 7, level: flat(value) });

describe('the rule on bands', () => {
  test('raises well under one false alert a year over all quantities of ordinary water', () => {
    const years = 4;
    const alerts = Array.from({ length: years }, (_, i) => calmWater(500 + i, 460)).flatMap(
      (facts, world) => {
        const open = new Map<string, number>();
        const opened: string[] = [];
        for (let day = 95; day < 460; day += 7) {
          for (const { facet, status } of find(outOfBand, knownOn(facts, day), day)) {
            if (status !== 'fires') continue;
            if (day - (open.get(facet) ?? -99) > 30) opened.push(`${world} ${facet} ${day}`);
            open.set(facet, day);
          }
        }
        return opened;
      },
    );
    expect(alerts.length / years).toBeLessThanOrEqual(0.5);
  });

  test('hears two tests running beyond the edge before the filter of all tests is there, and not one', () => {
    const crept = (last: readonly number[]) => {
      const own = Array.from({ length: 60 }, (_, day) =>
        reading(3 * day, 35.6 + (day % 2 === 0 ? 0.05 : -0.05), 0.2),
      );
      const late = last.map((value, i) => reading(180 + 3 * i, value, 0.2));
      return blankSystem({ kept, readings: new Map([['salinity', [...own, ...late]]]) });
    };
    const outside = (last: readonly number[]) =>
      firing(find(outOfBand, crept(last), 177 + 3 * last.length)).filter(({ title }) =>
        title.includes('is above its band'),
      );
    expect(outside([36.25, 36.2])).toHaveLength(1);
    expect(outside([36.25])).toEqual([]);
    expect(outside([36.25, 35.9])).toEqual([]);
    // Either could be the error of its test.
    expect(outside([36.03, 36.04])).toEqual([]);
  });

  test('asks for a second test where the last one was not out, and for no third once two running were', () => {
    const steps = (levels: readonly number[]) => {
      const own = levels.map((value, i) => reading(i, value, 10));
      const facts = blankSystem({ kept, readings: new Map([['calcium', own]]) });
      return find(outOfBand, facts, levels.length)[0]?.firstStep ?? '';
    };
    expect(steps([350, 351, 349, 350, 384])).toContain('Confirm with a second test');
    expect(steps([350, 351, 349, 350, 352])).not.toContain('Confirm with a second test');
    expect(steps([350, 351, 349, 350, 352])).toContain('Test with another kit too');
  });

  test('says that a quantity stands outside, against which edge and what comes first', () => {
    const [finding] = firing(find(outOfBand, tested(40, { calcium: calcium(350) }), 40));
    expect(finding).toMatchObject({
      facet: 'calcium',
      title: 'Long run: calcium is below its band',
      severity: 'today',
      number: { unit: 'mg/L' },
      limit: { text: '380', source: 'house rule' },
    });
    expect(finding?.numbers).toMatch(/^35\d mg\/L; band 380 to 450 mg\/L$/);
    expect(finding?.firstStep).toContain('20 to 30 mg/L a day');
  });

  test('asks to act now where it stands far outside', () => {
    expect(firing(find(outOfBand, tested(40, { calcium: calcium(310) }), 40))).toMatchObject([
      { severity: 'now' },
    ]);
    const warm = { u: 0.2, level: (day: number) => (day < 30 ? 26 : 29.3) };
    expect(firing(find(outOfBand, tested(40, { temperature: warm }), 40))).toMatchObject([
      { severity: 'now', causes: [{ rule: 'heat-stress' }] },
    ]);
  });

  test('within the tests’ uncertainty of the edge it opens nothing, keeps what is open, and says so', () => {
    const findings = find(outOfBand, tested(40, { calcium: calcium(379) }), 40);
    expect(findings).toMatchObject([
      { status: 'stays', title: 'Long run: calcium is at the edge of its band' },
    ]);
  });

  test('clears only once it stands inside surely', () => {
    expect(find(outOfBand, tested(40, { calcium: calcium(400) }), 40)).toEqual([]);
  });

  test('a single surprising reading that would be dangerous asks for its repeat at once', () => {
    const facts = tested(30, { salinity: { u: 0.3, level: flat(35) } });
    const low = reading(30, 32, 0.3, { trust: 'unconfirmed' });
    const with1 = {
      ...facts,
      readings: new Map([['salinity', [...(facts.readings.get('salinity') ?? []), low]]]),
    };
    const [finding] = firing(find(outOfBand, with1, 30));
    expect(finding).toMatchObject({ severity: 'now', doubted: true });
    expect(finding?.title).toContain('unconfirmed: test now');
    expect(finding?.firstStep).toMatch(/^Act now: test again within the hour, by 01:00/);
  });

  test('the repeat that confirms it makes it an alert at once, and the plain ones after keep it', () => {
    const facts = tested(30, { salinity: { u: 0.3, level: flat(35) } });
    const after = [
      reading(30, 32, 0.3, { trust: 'confirmed' }),
      reading(30.01, 32.2, 0.3, { trust: 'confirmed' }),
      reading(31, 32.1, 0.3),
      reading(32, 32, 0.3),
    ];
    for (const count of [2, 3, 4]) {
      const own = [...(facts.readings.get('salinity') ?? []), ...after.slice(0, count)];
      const found = firing(find(outOfBand, { ...facts, readings: new Map([['salinity', own]]) }, 33));
      expect(found, `${count} readings`).toMatchObject([
        { facet: 'salinity', title: 'Long run: salinity is below its band' },
      ]);
    }
  });

  test('what is only thin with the salinity is the salinity’s', () => {
    const facts = tested(40, { calcium: calcium(350), salinity: { u: 0.3, level: flat(31) } });
    const findings = find(outOfBand, facts, 40);
    expect(firing(findings).map(({ facet }) => facet)).toEqual(['salinity']);
    expect(findings.find(({ facet }) => facet === 'calcium')).toMatchObject({
      status: 'stays',
      title: 'Long run: calcium is below its band with the salinity',
      causes: [{ rule: 'out-of-band', facet: 'salinity' }],
      figures: [{}, { text: '396 mg/L' }, {}],
    });
  });

  test('a salinity that fell since yesterday counts as it is now, not as the mean of its week', () => {
    const thinned = (day: number) => (day < 39 ? 35 : 31);
    const facts = tested(40, { calcium: calcium(350), salinity: { u: 0.3, level: thinned } });
    expect(find(outOfBand, facts, 40).find(({ facet }) => facet === 'calcium')).toMatchObject({
      status: 'stays',
      title: 'Long run: calcium is below its band with the salinity',
    });
  });

  test('nothing is dosed while a salinity that would explain it waits for its repeat', () => {
    const facts = tested(40, { calcium: calcium(350), salinity: { u: 0.3, level: flat(35) } });
    const salinity = [
      ...(facts.readings.get('salinity') ?? []),
      { ...reading(39.5, 31, 0.3), trust: 'unconfirmed' as const },
    ];
    const waiting = { ...facts, readings: new Map([...facts.readings, ['salinity', salinity]]) };
    const [low] = firing(find(outOfBand, waiting, 40)).filter(({ facet }) => facet === 'calcium');
    expect(low?.title).toBe('Long run: calcium is below its band');
    expect(low?.firstStep).toMatch(
      /^Test the salinity again now, .*Dose nothing for this level until it is known/,
    );
    expect(low?.advice.flatMap(({ acts }) => acts)).not.toContainEqual(
      expect.objectContaining({ lever: 'level', direction: 'up' }),
    );
    expect(low?.causes).toContainEqual(expect.objectContaining({ rule: 'out-of-band', facet: 'salinity' }));
  });

  test('a calcium that is low at the usual salinity too is low by itself', () => {
    const facts = tested(40, { calcium: calcium(320), salinity: { u: 0.3, level: flat(33) } });
    expect(firing(find(outOfBand, facts, 40)).map(({ facet }) => facet)).toContain('calcium');
  });

  test('a low alkalinity goes under the alert on its fall', () => {
    const facts = tested(40, { alkalinity: { u: 0.1 * perDkh, level: flat(dkh(6.5)) } });
    expect(firing(find(outOfBand, facts, 40))).toMatchObject([
      { facet: 'alkalinity', causes: [{ rule: 'alkalinity-falling' }] },
    ]);
  });

  test('where a new bottle differs from the one before the worse reading of the case speaks, and asks for a standard first; a standard explains it', () => {
    const readings = Array.from({ length: 40 }, (_, day) =>
      reading(day, dkh(7.6) * (day < 25 ? 1 : 0.87) * (1 + 0.01 * Math.sin(2.4 * day)), 0.1 * perDkh, {
        kitId: day < 25 ? 'old' : 'new',
      }),
    );
    const kit = blankKit({
      id: 'new',
      openedDay: dayZero + 25,
      systems: [{ systemId: madeId(), name: 'Long run', firstDay: dayZero + 25, readings }],
    });
    const facts = blankSystem({ kept, readings: new Map([['alkalinity', readings]]) });
    expect(firing(find(outOfBand, facts, 40))).toHaveLength(1);
    const [told] = firing(find(outOfBand, { ...facts, kits: [kit] }, 40));
    expect(told?.firstStep).toMatch(
      /^Test a standard with .* before you dose: it and the bottle before differ/,
    );
    // The other way round the level as read is well, and by the bottle before it is too low.
    const high = readings.map((one) =>
      one.kitId === 'new'
        ? { ...one, value: dkh(7.6) * (one.value / (0.87 * dkh(7.6))) }
        : { ...one, value: 0.87 * one.value },
    );
    const highFacts = blankSystem({ kept, readings: new Map([['alkalinity', high]]) });
    const [system] = kit.systems;
    const highKit = {
      ...kit,
      systems: [{ ...system, systemId: 'made', name: 'Long run', firstDay: dayZero + 25, readings: high }],
    };
    expect(firing(find(outOfBand, { ...highFacts, kits: [highKit] }, 40))).toHaveLength(1);
    // A standard of 8 dKH that it reads as 7.
    const checks = [0, 0, 10, 10].map((after, i) => ({
      ...{ id: `check ${i}`, day: dayZero + 26 + after, at: '', standard: dkh(8), value: dkh(7) },
      u: 0.1 * perDkh,
    }));
    expect(find(outOfBand, { ...facts, kits: [{ ...kit, checks }] }, 40)).toMatchObject([
      { status: 'stays', causes: [{ rule: 'kit-biased', subject: { id: 'new' } }] },
    ]);
  });

  test('warns of a drift that leaves the band soon, from sixty days of tests', () => {
    const drifting = { calcium: { u: 5, gap: 3, level: (day: number) => 425 - Math.max(0, day - 45) } };
    const [finding] = firing(find(outOfBand, tested(85, drifting), 85));
    expect(finding).toMatchObject({ title: 'Long run: calcium leaves its band', severity: 'watch' });
    expect(finding?.numbers).toMatch(/falls by [67] mg\/L a week$/);
    const young = { calcium: { u: 5, gap: 3, level: (day: number) => 425 - Math.max(0, day - 10) } };
    expect(firing(find(outOfBand, tested(50, young), 50))).toEqual([]);
  });

  test('what a running correction repairs as planned is not told again, unless it departs', () => {
    const steps = [0, 1, 2, 3].map((i) => ({
      id: madeId(),
      dueDay: dayZero + 30.5 + 2 * i,
      expectedAfter: 340 + 20 * (i + 1),
      retest: true,
      doneDay: i < 2 ? dayZero + 30.5 + 2 * i : null,
    }));
    const correction: CorrectionFact = {
      id: madeId(),
      quantityCode: 'calcium',
      substance: 'calcium chloride',
      fromDay: dayZero + 30,
      toDay: null,
      fromValue: 340,
      target: 420,
      dailyCap: 20,
      steps,
    };
    const asPlanned = (day: number) => 340 + (day > 30.5 ? 20 : 0) + (day > 32.5 ? 20 : 0);
    const at = (level: (day: number) => number, days = 34) =>
      find(outOfBand, tested(days, { calcium: { u: 5, level } }, { corrections: [correction] }), days);
    const [planned] = at((day) => Math.min(asPlanned(day), 366));
    expect(planned).toMatchObject({
      status: 'stays',
      title: expect.stringMatching(/^Long run: calcium is (below|at the edge of) its band, corrected now$/),
    });
    expect(firing(at(flat(340), 38))).toMatchObject([{ title: 'Long run: calcium is below its band' }]);
  });

  test('takes readings below detection for what they are', () => {
    const readings = Array.from({ length: 8 }, (_, i) => reading(7 * i, 0.02, 0.012, { below: true }));
    const facts = blankSystem({
      kept: new Map([['phosphate', band(null, 0.1)]]),
      readings: new Map([['phosphate', readings]]),
    });
    expect(find(outOfBand, facts, 50)).toEqual([]);
  });

  test('says nothing new on old readings, and keeps what is open', () => {
    expect(find(outOfBand, tested(40, { salinity: { u: 0.3, level: flat(32) } }), 60)).toMatchObject([
      { status: 'unknown' },
    ]);
  });
});

describe('a band that no such water can keep', () => {
  test.each([
    ['salinity', 1.023, 1.206, 35, 'is its band of salinity typed right?'],
    ['alkalinity', 125, 160, 2.9, 'is its band of alkalinity typed right?'],
    ['calcium', 40, 45, 420, 'is its band of calcium typed right?'],
  ])(
    'of %s raises one question about it and no advice on the water',
    (code, bandLow, bandHigh, level, title) => {
      const kept = { bandLow, bandHigh, limitHigh: null, makeUp: null, source: '' };
      const readings = new Map([
        [code, Array.from({ length: 20 }, (_, day) => reading(day, level, level / 100))],
      ]);
      const found = firing(find(outOfBand, blankSystem({ kept: new Map([[code, kept]]), readings }), 20));
      expect(found).toHaveLength(1);
      expect(found[0]).toMatchObject({ severity: 'watch', title: `Long run: ${title}` });
      expect(found[0]?.firstStep).toContain('Change nothing in the water');
      expect(JSON.stringify(found)).not.toMatch(/fresh water|dosing|correction/);
    },
  );
});

describe('a level that is far off a band that nobody chose', () => {
  const starting = (code: string, low: number, high: number) =>
    new Map([[code, { ...band(low, high), source: 'starting band', starting: true }]]);
  const found = (code: string, low: number, high: number, level: (day: number) => number, u: number) =>
    find(outOfBand, tested(20, { [code]: { u, level } }, { kept: starting(code, low, high) }), 19)[0];

  test('is told of for today, and says that the band alone is left', () => {
    const alkalinity = found('alkalinity', dkh(7), dkh(9), () => dkh(10.6), 0.1 * perDkh);
    expect(alkalinity).toMatchObject({ status: 'fires', severity: 'today', unchosenBand: true });
    const magnesium = found('magnesium', 1250, 1350, () => 1550, 15);
    expect(magnesium).toMatchObject({ severity: 'today', unchosenBand: true });
  });

  // Edges of what does harm: `strained` and the acute states in src/water/acute, common practice.
  test('does not say so beyond what does harm, after a jump, or of a band that somebody chose', () => {
    const cold = found('temperature', 24.4, 28.3, () => 19.3, 0.1);
    expect(cold?.unchosenBand).toBeUndefined();
    const jumped = found('alkalinity', dkh(7), dkh(9), (day) => dkh(day < 19 ? 8 : 10.6), 0.1 * perDkh);
    expect(jumped?.unchosenBand).toBeUndefined();
    const chosen = find(
      outOfBand,
      tested(
        20,
        { alkalinity: { u: 0.1 * perDkh, level: () => dkh(10.6) } },
        { kept: new Map([['alkalinity', band(dkh(7), dkh(9))]]) },
      ),
      19,
    );
    expect(chosen[0]?.severity).not.toBe('watch');
    expect(chosen[0]?.unchosenBand).toBeUndefined();
  });
});
