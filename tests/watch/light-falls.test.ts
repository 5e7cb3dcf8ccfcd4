import { describe, expect, test } from 'vitest';
import type { AcclimationFact, LampFact, LotFact, RackFact } from '../../src/watch/facts/types.ts';
import { lightStep } from '../../src/watch/rules/light/light-step.ts';
import { surveyOutdated } from '../../src/watch/rules/light/survey-outdated.ts';
import { tooLittleLight } from '../../src/watch/rules/light/too-little-light.ts';
import { tooMuchLight } from '../../src/watch/rules/light/too-much-light.ts';
import { blankSystem, dayZero, find, firing, madeId, onDay } from './facts.ts';
import { blankRack, light, look, lotOf, survey } from './kinds.ts';

const under = (
  rule: unknown,
  lots: LotFact[],
  day: number,
  racks: RackFact[] = [blankRack()],
  lamps: LampFact[] = [],
) => find(rule, blankSystem({ lots, racks, lamps }), day);
const severities = (rule: unknown, lots: LotFact[], day: number) =>
  firing(under(rule, lots, day)).map(({ severity }) => severity);
const lampTurned = (...settings: [day: number, percent: number][]): LampFact => ({
  id: 'lamp',
  name: 'Over N3',
  tankName: 'Raceway 1',
  settings: settings.map(([day, percent]) => ({
    id: madeId(),
    day: dayZero + day,
    at: onDay(day).toISOString(),
    percent,
    note: '',
  })),
});
const plan = (known: Partial<AcclimationFact> = {}): AcclimationFact => ({
  id: madeId(),
  name: 'Delivery of day 90',
  purpose: 'brighter',
  startsDay: dayZero + 90,
  paused: false,
  fromDli: 80 * 0.0324,
  targetDli: 140 * 0.0324,
  maxStepRatio: 1.2,
  steps: [],
  ...known,
});

describe('too little light', () => {
  // Acropora millepora: kept at 180 to 350, adapts with a time constant of 10 days.
  test.each([
    ['within its range', [light(0, 200)], 200, []],
    ['below it for as long as it takes to adapt', [light(0, 200), light(50, 150)], 81, ['watch']],
    ['below it for less', [light(0, 200), light(50, 150)], 78, []],
    ['in deep shade, told sooner', [light(0, 200), light(50, 70)], 61, ['today']],
    ['in deep shade for a week', [light(0, 200), light(50, 70)], 57, []],
    ['perhaps below it, by an unsure survey', [light(0, 170, { error: 15 })], 200, []],
    ['below it again since a brighter stay', [light(0, 150), light(60, 200), light(70, 150)], 90, []],
  ] as const)('%s', (_, pieces, day, expected) => {
    expect(severities(tooLittleLight, [lotOf('acropora-millepora', { light: [...pieces] })], day)).toEqual(
      expected,
    );
  });

  test('a lot that recovers, or is in an acclimation, is left in its shade', () => {
    const dim = { light: [light(0, 200), light(50, 70)] };
    const bleached = lotOf('acropora-millepora', { ...dim, conditions: [look(49, 'bleached', 1)] });
    const planned = lotOf('acropora-millepora', { ...dim, acclimation: plan({ purpose: 'recovery' }) });
    expect(severities(tooLittleLight, [bleached, planned], 90)).toEqual([]);
  });

  test('a rack of them is one alert', () => {
    const lots = Array.from({ length: 12 }, () => lotOf('acropora-millepora', { light: [light(0, 120)] }));
    expect(firing(under(tooLittleLight, lots, 90))).toMatchObject([
      { subject: { type: 'rack' }, title: 'N3: 12 lots get too little light' },
    ]);
  });
});

describe('light that fell at once', () => {
  test('is told from two and a half times less than the lot is used to, and grows quiet as it adapts', () => {
    const lot = lotOf('acropora-millepora', { light: [light(0, 300), light(90, 100)] });
    expect(under(lightStep, [lot], 91)[0]).toMatchObject({
      status: 'fires',
      severity: 'today',
      numbers: 'used to 281, gets 100 since 1 Apr 2026',
    });
    // 100 + 200 exp(-t/10): 2.1 times the light after six days, 1.7 after ten.
    expect(under(lightStep, [lot], 96)[0]?.status).toBe('stays');
    expect(under(lightStep, [lot], 100.5)).toEqual([]);
  });

  test('is no alert where the lot was moved to recover', () => {
    const conditions = [look(89, 'paling', 2)];
    expect(
      under(
        lightStep,
        [lotOf('acropora-millepora', { light: [light(0, 300), light(90, 100)], conditions })],
        91,
      ),
    ).toEqual([]);
  });

  test('under lamps that were turned down is one matter of the lamps', () => {
    const lots = [250, 260, 270].map((par) =>
      lotOf('acropora-millepora', { lampId: 'lamp', light: [light(0, par), light(90, par / 3)] }),
    );
    const told = firing(
      under(lightStep, lots, 91, [blankRack({ lampId: 'lamp' })], [lampTurned([0, 75], [90, 25])]),
    );
    expect(told).toMatchObject([
      { subject: { type: 'lamp', id: 'lamp' }, facet: 'down', numbers: '75 % to 25 % on 1 Apr 2026' },
    ]);
    expect(told[0]?.lots).toHaveLength(3);
  });
});

describe('light that fades', () => {
  const fade = (surveys: RackFact['surveys']) =>
    under(
      lightStep,
      [lotOf('acropora-millepora', { lampId: 'lamp' })],
      400,
      [blankRack({ lampId: 'lamp', surveys })],
      [lampTurned([0, 60])],
    );

  test.each([
    ['by a sixth at one setting', [survey(0, 240), survey(200, 220), survey(390, 200)], ['watch']],
    ['by a quarter and more', [survey(0, 240), survey(390, 175)], ['today']],
    ['as the lamps were turned down', [survey(0, 240, 60), survey(390, 160, 40)], []],
    ['while the lamps were turned up to hide it', [survey(0, 240, 60), survey(390, 240, 80)], ['today']],
    ['within two surveys’ error', [survey(0, 240), survey(390, 225)], []],
    [
      'since one bright survey between darker ones',
      [survey(0, 200), survey(60, 300), survey(200, 205)],
      ['today'],
    ],
    [
      'and measured so again: it was the bright one that was off',
      [survey(0, 200), survey(60, 300), survey(200, 205), survey(210, 200)],
      [],
    ],
    [
      'and again less than before the bright one',
      [survey(0, 240), survey(60, 300), survey(200, 205), survey(210, 200)],
      ['today'],
    ],
    ['from one week to the next: a meter, not the lamps', [survey(380, 240), survey(390, 175)], []],
  ] as const)('%s', (_, surveys, expected) => {
    expect(firing(fade([...surveys])).map(({ severity }) => severity)).toEqual(expected);
  });
});

describe('a light survey', () => {
  const lamp = lampTurned([0, 60], [100, 90]);
  const ask = (rack: Partial<RackFact>, day: number) =>
    firing(
      under(
        surveyOutdated,
        [lotOf('acropora-millepora')],
        day,
        [blankRack({ lampId: 'lamp', ...rack })],
        [lamp],
      ),
    );

  test('is old after half a year, or once the lamps were turned', () => {
    expect(ask({}, 99)).toEqual([]);
    expect(ask({}, 101)).toEqual([]);
    expect(ask({}, 103)[0]).toMatchObject({
      subject: { type: 'rack', id: 'rack' },
      numbers: 'lamps turned from 60 % to 90 % since it was measured',
    });
    expect(ask({ surveys: [survey(104, 130, 90)] }, 110)).toEqual([]);
    expect(ask({ surveys: [survey(104, 130, 90)] }, 290)[0]?.numbers).toBe('surveyed 15 Apr 2026');
    expect(ask({ surveys: [survey(104, 130, 90)], standsDay: dayZero + 120 }, 130)[0]?.numbers).toContain(
      'hangs otherwise',
    );
  });

  test('is not asked of a rack without lots; nor of one never surveyed, which is listed as not known', () => {
    expect(ask({ id: 'another' }, 300)).toEqual([]);
    expect(ask({ surveys: [] }, 3)).toEqual([]);
  });
});

describe('an acclimation under way', () => {
  // Platygyra daedalea: steps of 1.2, time constant 14 days; in slots that were measured, not reckoned from others.
  const measured = (day: number, par: number) => light(day, par, { error: 2 });
  const stepped = (par: number, known: Partial<AcclimationFact> | null, first = 0) =>
    lotOf('platygyra-daedalea', {
      light: [measured(first, 80), measured(97, par)],
      acclimation:
        known === null
          ? null
          : plan({ steps: [{ dueDay: dayZero + 97, dli: 104 * 0.0324, doneDay: null }], ...known }),
    });
  const told = (lot: LotFact, day = 98) => firing(under(tooMuchLight, [lot], day)).length;

  test('its own steps are no alert, what goes beyond them is', () => {
    expect(told(stepped(104, null))).toBe(1);
    expect(told(stepped(104, {}))).toBe(0);
    expect(told(stepped(130, {}))).toBe(1);
    expect(under(tooMuchLight, [stepped(130, {})], 98)[0]?.firstStep).toContain(
      'the last step of “Delivery of day 90”',
    );
  });

  test('while it is paused no new step is due; the kind’s ceiling holds whatever is planned', () => {
    expect(told(stepped(104, { paused: true }))).toBe(1);
    expect(told(stepped(230, { steps: [{ dueDay: dayZero + 97, dli: 230 * 0.0324, doneDay: null }] }))).toBe(
      1,
    );
  });

  test('a delivery starts from the light it had before it came', () => {
    const came = (fromDli: number) =>
      lotOf('platygyra-daedalea', { light: [light(90, 110)], acclimation: plan({ fromDli, paused: true }) });
    expect(told(came(110 * 0.0324), 91)).toBe(0);
    expect(told(came(60 * 0.0324), 91)).toBe(1);
  });
});
