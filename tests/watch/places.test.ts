import { describe, expect, test } from 'vitest';
import type { LotFact, RackFact } from '../../src/watch/facts/types.ts';
import { flowUnsuited } from '../../src/watch/rules/places/flow-unsuited.ts';
import { jetOnFlesh } from '../../src/watch/rules/places/jet-on-flesh.ts';
import { looseInFlow } from '../../src/watch/rules/places/loose-in-flow.ts';
import { neighboursInReach } from '../../src/watch/rules/places/neighbours-in-reach.ts';
import { bearsSand, siltRisk } from '../../src/watch/rules/places/silt-risk.ts';
import { blankSystem, dayZero, find, firing, madeId } from './facts.ts';
import { blankRack, look, lotOf } from './kinds.ts';

const on = (rule: unknown, lots: LotFact[], day = 100, rack: Partial<RackFact> = {}) =>
  find(rule, blankSystem({ lots, racks: [blankRack(rack)] }), day);
const at = (row: number, column: number) => ({ cells: [{ row, column }] });
const severities = (rule: unknown, lots: LotFact[], day = 100) =>
  firing(on(rule, lots, day)).map(({ severity }) => severity);

describe('flow that does not suit', () => {
  test.each([
    ['a brain coral in low flow', 'platygyra-daedalea', 'low', []],
    ['a brain coral in high flow', 'platygyra-daedalea', 'high', ['watch']],
    ['a brain coral in still water', 'platygyra-daedalea', 'still', ['watch']],
    ['a branching coral in still water', 'acropora-millepora', 'still', ['today']],
    ['a mushroom in still water', 'discosoma', 'still', []],
    ['a branching coral where nobody said how the water moves', 'acropora-millepora', null, []],
  ] as const)('%s', (_, kind, flow, expected) => {
    expect(severities(flowUnsuited, [lotOf(kind, { flow })])).toEqual(expected);
  });

  test('is more urgent once the lot shows it, not for what was seen where it stood before', () => {
    const lot = { flow: 'high', placedDay: dayZero + 50 } as const;
    expect(
      severities(flowUnsuited, [lotOf('discosoma', { ...lot, conditions: [look(60, 'polyps_shut')] })]),
    ).toEqual(['today']);
    expect(
      severities(flowUnsuited, [lotOf('discosoma', { ...lot, conditions: [look(40, 'polyps_shut')] })]),
    ).toEqual(['watch']);
  });

  test('forty lots of one rack are one alert on the rack, with the lots listed', () => {
    const lots = Array.from({ length: 40 }, (_, i) =>
      lotOf('platygyra-daedalea', { code: `L${i}`, flow: 'high' }),
    );
    const findings = on(flowUnsuited, lots);
    const told = firing(findings);
    expect(told).toHaveLength(1);
    expect(told[0]).toMatchObject({
      subject: { type: 'rack', id: 'rack' },
      title: 'N3: 40 lots in the wrong flow',
    });
    expect(told[0]?.lots).toHaveLength(40);
    expect(told[0]?.evidence).toHaveLength(40);
    // What was open of single lots stays open, beneath the rack's.
    expect(findings.filter(({ status }) => status === 'stays')).toHaveLength(40);
    expect(findings.at(-1)?.causes[0]).toEqual({
      rule: 'flow-unsuited',
      subject: { type: 'rack', id: 'rack' },
      facet: '',
    });
  });

  test('of two lots each is told, and the rack opens nothing', () => {
    const lots = [1, 2].map(() => lotOf('platygyra-daedalea', { flow: 'high' }));
    expect(firing(on(flowUnsuited, lots)).map(({ subject }) => subject.type)).toEqual(['lot', 'lot']);
  });
});

describe('a jet', () => {
  test('is borne by branching corals, not by flesh', () => {
    expect(severities(jetOnFlesh, [lotOf('acropora-millepora', { jet: true })])).toEqual([]);
    expect(severities(jetOnFlesh, [lotOf('trachyphyllia-geoffroyi', { jet: true })])).toEqual(['today']);
  });

  test('that takes flesh off is for now; one seen by a person counts where the plan shows none', () => {
    const conditions = [look(90, 'receding', 1)];
    expect(severities(jetOnFlesh, [lotOf('trachyphyllia-geoffroyi', { jet: true, conditions })])).toEqual([
      'now',
    ]);
    expect(
      severities(jetOnFlesh, [lotOf('acropora-millepora', { conditions: [look(90, 'jet', 1)] })]),
    ).toEqual(['today']);
    expect(
      severities(jetOnFlesh, [
        lotOf('acropora-millepora', { conditions: [look(95, 'well'), look(90, 'jet', 1)] }),
      ]),
    ).toEqual([]);
  });
});

describe('silt', () => {
  const deep = { base: 'sand', depthMm: 360 } as const;
  test.each([
    [
      'a brain coral on sand in low flow at the bottom',
      'platygyra-daedalea',
      { ...deep, flow: 'low' },
      ['watch'],
    ],
    ['the same on egg-crate', 'platygyra-daedalea', { flow: 'low', depthMm: 360 }, []],
    ['the same in medium flow', 'platygyra-daedalea', { ...deep, flow: 'medium' }, []],
    [
      'the same on a tray of sand high up',
      'platygyra-daedalea',
      { base: 'sand', depthMm: 120, flow: 'low' },
      [],
    ],
    ['one that lives on sand', 'catalaphyllia-jardinei', { ...deep, flow: 'low' }, []],
    ['an open brain that may lie on it', 'trachyphyllia-geoffroyi', { ...deep, flow: 'low' }, []],
  ] as const)('%s', (_, kind, place, expected) => {
    expect(severities(siltRisk, [lotOf(kind, place)])).toEqual(expected);
  });

  test('seen on a lot in low flow is for today, wherever it stands', () => {
    expect(
      severities(siltRisk, [lotOf('platygyra-daedalea', { conditions: [look(99, 'silt', 1)] })]),
    ).toEqual(['today']);
  });

  test('what a kind is kept on is read from its words', () => {
    expect(bearsSand('Rock or egg-crate rather than fine sand: grains kill.')).toBe(false);
    expect(bearsSand('Egg-crate or rock, never sand.')).toBe(false);
    expect(bearsSand('Sand, upright; it must not be wedged in rock.')).toBe(true);
    expect(bearsSand(null)).toBe(false);
  });
});

describe('a loose lot', () => {
  const loose = [look(99, 'loose', 1)];
  test.each([
    ['low', false, []],
    ['medium', false, ['today']],
    ['high', false, ['now']],
    ['low', true, ['now']],
    [null, false, []],
  ] as const)('in %s flow, in a jet: %s', (flow, jet, expected) => {
    expect(severities(looseInFlow, [lotOf('montipora-digitata', { flow, jet, conditions: loose })])).toEqual(
      expected,
    );
  });
});

describe('neighbours', () => {
  const hammer = (known: Partial<LotFact>) => lotOf('fimbriaphyllia-ancora', { code: 'HAMMER', ...known });
  const crystal = (known: Partial<LotFact>) => lotOf('galaxea-fascicularis', { code: 'CRYSTAL', ...known });
  const brain = (known: Partial<LotFact>) => lotOf('platygyra-daedalea', { code: 'BRAIN', ...known });
  const moss = (known: Partial<LotFact>) => lotOf('favites-pentagona', { code: 'FAVITES', ...known });

  test('are compared pair by pair: slots between them, the pieces themselves, and either one’s reach', () => {
    // 60 mm from slot to slot, pieces of 30 mm: 30 mm of water one slot away, 90 mm two away; brains reach 50 mm.
    expect(on(neighboursInReach, [brain(at(1, 1)), moss(at(1, 2))])[0]).toMatchObject({
      title: 'FAVITES on N3, B4: can sting BRAIN',
      numbers: '30 mm apart, each reaches 50 mm',
      severity: 'watch',
    });
    expect(on(neighboursInReach, [brain(at(1, 1)), moss(at(1, 3))])).toEqual([]);
    // A hammer coral reaches 200 mm: three slots, whoever asks.
    expect(firing(on(neighboursInReach, [brain(at(1, 1)), hammer(at(1, 4))]))).toHaveLength(1);
    expect(firing(on(neighboursInReach, [hammer(at(1, 1)), brain(at(1, 6))]))).toEqual([]);
  });

  test('an unmeasured rack is reckoned with a usual pitch, and says so', () => {
    const [finding] = on(neighboursInReach, [brain(at(1, 1)), moss(at(1, 2))], 100, { slotWidthMm: null });
    expect(finding?.numbers).toBe('about 30 mm apart, each reaches 50 mm');
    expect(finding?.figures.at(-1)?.text).toMatch(/^estimated: slots taken as 60 mm apart/);
  });

  test('of one kind, or cut from one colony, stand side by side', () => {
    expect(on(neighboursInReach, [brain(at(1, 1)), brain(at(1, 2))])).toEqual([]);
    const mother = madeId();
    const cuts = [brain({ ...at(1, 1), parentId: mother }), moss({ ...at(1, 2), parentId: mother })];
    expect(on(neighboursInReach, cuts)).toEqual([]);
  });

  test('a new one is to be looked at on days 3 and 14, and both looks end the asking', () => {
    const together = { placedDay: dayZero + 90 };
    const day = (now: number, ...looks: number[]) => {
      const conditions = looks.map((one) => look(one, 'well')).reverse();
      return severities(
        neighboursInReach,
        [crystal({ ...at(1, 1), conditions }), hammer({ ...at(1, 3), ...together, conditions })],
        now,
      );
    };
    expect(day(92)).toEqual(['watch']);
    expect(day(93)).toEqual(['today']);
    expect(day(94, 93)).toEqual(['watch']);
    expect(day(98)).toEqual(['watch']);
    expect(day(104, 93)).toEqual(['today']);
    expect(day(105, 93, 104)).toEqual(['watch']);
  });

  test('recession since they stand together is for now', () => {
    const lots = [crystal(at(1, 1)), hammer({ ...at(1, 2), conditions: [look(99, 'receding', 1)] })];
    const [finding] = on(neighboursInReach, lots);
    expect(finding).toMatchObject({
      severity: 'now',
      title: 'HAMMER on N3, B4: HAMMER suffers beside CRYSTAL',
    });
  });

  test('recession beside one that nobody measured is for today, as a guess, and is looked at first', () => {
    const lots = [brain(at(1, 1)), moss({ ...at(1, 2), conditions: [look(99, 'receding', 1)] })];
    const [finding] = on(neighboursInReach, lots, 100, { slotWidthMm: null });
    expect(finding).toMatchObject({
      ...{ severity: 'today', title: expect.stringContaining(' is unwell beside ') },
      ...{ number: { label: 'Water between them, estimated' } },
    });
    expect(finding?.firstStep).toMatch(/^Look at both tonight by torch/);
    expect(finding?.figures.map(({ label }) => label)).not.toContain('To look at by night on');
  });

  test('one that alone reaches the other is not harmed by it', () => {
    const lots = [
      hammer({ ...at(1, 1), conditions: [look(99, 'receding', 1)] }),
      brain({ ...at(1, 4), code: 'BRAIN' }),
    ];
    const [finding] = on(neighboursInReach, lots);
    expect(finding).toMatchObject({ severity: 'watch' });
    expect(finding?.title).not.toContain('HAMMER suffers');
  });

  test('a mixed rack is one alert', () => {
    const lots = Array.from({ length: 8 }, (_, i) =>
      (i % 2 === 0 ? brain : moss)({ ...at(1, 1 + i), code: `L${i}` }),
    );
    expect(firing(on(neighboursInReach, lots)).map(({ subject }) => subject.type)).toEqual(['rack']);
  });
});
