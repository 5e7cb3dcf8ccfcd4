import { describe, expect, test } from 'vitest';
import {
  type ConditionFact,
  type LampFact,
  type LightFact,
  type LotFact,
  unknownCare,
} from '../../src/watch/facts/types.ts';
import { tooMuchLight } from '../../src/watch/rules/light/too-much-light.ts';
import { conditionNoted } from '../../src/watch/rules/lots/condition-noted.ts';
import { blankLot, blankSystem, dayZero, find, firing, madeId, onDay } from './facts.ts';

const light = (day: number, par: number): LightFact => ({
  fromDay: dayZero + day,
  par,
  dli: par * 0.0324,
  error: 5,
  estimated: false,
});

function look(day: number, state: ConditionFact['state'], grade: number | null = 1): ConditionFact {
  return {
    id: madeId(),
    day: dayZero + day,
    at: onDay(day).toISOString(),
    state,
    grade,
    compared: null,
    note: '',
  };
}

function lot(known: Partial<LotFact>): LotFact {
  return blankLot({
    kindIds: ['taxon', 'group'],
    light: [light(0, 80)],
    care: {
      ...unknownCare,
      ceiling: { par: 200, source: 'growers' },
      stepRatio: { ratio: 1.2, source: 'articles' },
      adaptationDays: { days: 14, source: 'a study' },
    },
    ...known,
  });
}

const found = (lots: LotFact[], day: number, lamps: LampFact[] = []) =>
  find(tooMuchLight, blankSystem({ lots, lamps }), day);

describe('the rule on too much light', () => {
  test.each([
    ['the light it is used to', [light(0, 80)], 100, []],
    ['a step within the ratio', [light(0, 80), light(90, 95)], 91, []],
    ['a step beyond the ratio', [light(0, 80), light(90, 120)], 91, ['today']],
    ['the same step, six weeks later', [light(0, 80), light(90, 120)], 132, []],
    ['less light than before', [light(0, 150), light(90, 60)], 91, []],
    ['above the ceiling, however long', [light(0, 230)], 300, ['today']],
    ['a little above the ceiling', [light(0, 205)], 300, ['watch']],
  ] as const)('%s', (_, history, day, severities) => {
    const findings = firing(found([lot({ light: [...history] })], day));
    expect(findings.map(({ severity }) => severity)).toEqual(severities);
  });

  test('the accustomed light follows the dose: 80 for long, 160 for 14 days, is 130.6 (first order, 14 days)', () => {
    const [finding] = found([lot({ light: [light(0, 80), light(90, 160)] })], 104);
    expect(finding?.numbers).toBe('used to 131, gets 160 since 1 Apr 2026');
  });

  test('paling seen since makes it more urgent, bleaching most; what was seen before does not', () => {
    const bright = [light(0, 80), light(90, 130)];
    const severity = (...conditions: ConditionFact[]) =>
      found([lot({ light: bright, conditions })], 93)[0]?.severity;
    expect(severity(look(92, 'paling', 1))).toBe('today');
    expect(severity(look(92, 'paling', 2))).toBe('now');
    expect(severity(look(92, 'bleached', 1))).toBe('now');
    expect(severity(look(80, 'paling', 2))).toBe('today');
    expect(severity(look(92, 'well', null), look(91, 'paling', 2))).toBe('today');
  });

  test('lots beneath lamps that were turned up are one matter, with the setting that all of them bear', () => {
    const lamp: LampFact = {
      id: 'lamp',
      name: 'Over N3',
      tankName: 'Raceway 1',
      settings: [
        { id: madeId(), day: dayZero, at: onDay(0).toISOString(), percent: 50, note: '' },
        { id: madeId(), day: dayZero + 90, at: onDay(90).toISOString(), percent: 95, note: 'Photographs' },
      ],
    };
    const under = (par: number) =>
      lot({ id: madeId(), lampId: 'lamp', light: [light(0, par), light(90, par * 1.9)] });
    const lots = [under(90), under(95), under(100)];
    const findings = found(lots, 92, [lamp]);
    const cause = findings.find(({ subject }) => subject.type === 'lamp');
    expect(cause?.title).toBe('Lamps “Over N3”: 3 lots get too much light');
    expect(cause?.numbers).toBe('50 % to 95 % on 1 Apr 2026');
    // Used to 1.12 times the old light after two days of 1.9 times; it bears 1.2 times that.
    expect(cause?.limit.value).toBe(65);
    for (const one of findings.filter(({ subject }) => subject.type === 'lot')) {
      expect(one.causes).toEqual([
        { rule: 'too-much-light', subject: { type: 'lamp', id: 'lamp' }, facet: '' },
      ]);
    }
    expect(found(lots.slice(0, 1), 92, [lamp]).map(({ subject }) => subject.type)).toEqual(['lot']);
  });

  describe('what surveys leave open opens nothing', () => {
    const unsure = (day: number, par: number, estimated = false): LightFact => ({
      ...light(day, par),
      error: par * 0.1,
      estimated,
    });

    test('a step a little too far by two surveys of 10 % error is kept in mind, a clear one opens', () => {
      const status = (par: number) =>
        found([lot({ light: [unsure(0, 80), unsure(90, par)] })], 90)[0]?.status;
      expect(status(105)).toBe('stays');
      expect(status(130)).toBe('fires');
    });

    test('its paling since then settles it', () => {
      const light = [unsure(0, 80), unsure(90, 105)];
      expect(found([lot({ light, conditions: [look(92, 'paling')] })], 92)[0]?.status).toBe('fires');
    });

    test('light scaled from one survey to the lamps’ setting has its error on both sides', () => {
      const light = [unsure(0, 80, true), unsure(90, 105, true)];
      expect(found([lot({ light })], 90)[0]?.status).toBe('fires');
    });

    test('a lot surely used to a light asks nothing of it but the ceiling, by the best estimate', () => {
      expect(found([lot({ light: [unsure(0, 210)] })], 300)[0]?.status).toBe('fires');
    });

    test('many lots beneath lamps that were turned up tell together what none tells alone', () => {
      const lamp: LampFact = {
        id: 'lamp',
        name: 'Over N3',
        tankName: 'Raceway 1',
        settings: [
          { id: madeId(), day: dayZero, at: onDay(0).toISOString(), percent: 50, note: '' },
          { id: madeId(), day: dayZero + 90, at: onDay(90).toISOString(), percent: 67, note: '' },
        ],
      };
      const under = () => lot({ id: madeId(), lampId: 'lamp', light: [unsure(0, 80), unsure(90, 107)] });
      const told = (count: number) =>
        firing(found(Array.from({ length: count }, under), 90, [lamp])).map(({ subject }) => subject.type);
      expect(told(3)).toEqual([]);
      expect(told(24)).toEqual(['lamp']);
    });
  });

  test('a lot whose light or care is not known is left alone', () => {
    expect(found([lot({ light: [] }), lot({ light: [light(0, 900)], care: unknownCare })], 10)).toEqual([]);
  });
});

describe('the rule on looks', () => {
  const noted = (conditions: ConditionFact[], day = 101) =>
    find(conditionNoted, blankSystem({ lots: [lot({ conditions })] }), day);

  test.each([
    ['paling', 1, 'watch'],
    ['paling', 2, 'today'],
    ['bleached', 1, 'today'],
    ['bleached', 3, 'now'],
    ['receding', 2, 'now'],
    ['polyps_shut', 1, 'watch'],
  ] as const)('%s of grade %s is for %s', (state, grade, severity) => {
    expect(noted([look(100, state, grade)])).toMatchObject([{ severity, status: 'fires' }]);
  });

  test('a lot that was well at its last look is left alone', () => {
    expect(noted([])).toEqual([]);
    expect(noted([look(100, 'well', null), look(90, 'bleached', 3)])).toEqual([]);
  });

  test('one not looked at for days asks for a look first', () => {
    const [finding] = noted([look(95, 'paling')]);
    expect(finding?.numbers).toBe('seen 6 Apr 2026, not checked for 6 days');
    expect(finding?.firstStep).toMatch(/^Look at it again today/);
  });

  test('paling belongs to too much light where that is open, recession to a jet or a neighbour', () => {
    expect(noted([look(100, 'paling')])[0]?.causes).toMatchObject([{ rule: 'too-much-light' }]);
    const rules = noted([look(100, 'receding')])[0]?.causes.map(({ rule }) => rule);
    expect(new Set(rules)).toEqual(new Set(['jet-on-flesh', 'neighbours-in-reach']));
  });
});
