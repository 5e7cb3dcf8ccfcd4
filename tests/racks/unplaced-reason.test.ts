import { describe, expect, test } from 'vitest';
import { IndexedProblem } from '../../src/racks/placement-solver/indexed-problem.rules.ts';
import type { PlanLot, PlanSlot } from '../../src/racks/placement-solver/slot-fit.rules.ts';
import {
  type PlacementRack,
  unplacedReason,
} from '../../src/racks/placement-solver/unplaced-reason.rules.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { lotOf, slotOf } from '../bench/placement/hall.ts';

const light = (par: number) => ({ par, error: 0, dli: par * 0.0324 });

/** A slot on rack N2 that suits the lot in everything. */
const suiting: PlanSlot = {
  ...slotOf(0, seededRandom(1)),
  ...{ rackId: 'n2', light: light(100), flow: 1, jet: false, base: 'egg_crate' },
};

const template = lotOf(0, seededRandom(2), false, []);
const lot: PlanLot = {
  ...template,
  sizeMm: 30,
  care: {
    ...template.care,
    ...{
      parLow: 60,
      parHigh: 120,
      parCeiling: 150,
      stepRatio: null,
      accustomed: null,
      isAccustomed: false,
      reachMm: 60,
    },
    ...{ flowLow: 1, flowHigh: 2, jet: 'never on flesh', base: 'Rock or egg-crate' },
  },
};

const racks = new Map<string, PlacementRack>([
  ['n2', { id: 'n2', name: 'N2', lampName: 'Bar', lampPercent: 80 }],
  ['n3', { id: 'n3', name: 'N3', lampName: null, lampPercent: null }],
]);

interface Neighbour {
  /** The slot it takes, by number. */
  at: number;
  kindId?: string;
}

/** What is said of the lot on these slots, the sentence on its needs left out. */
function reasons(
  slots: readonly Partial<PlanSlot>[],
  more: Partial<PlanLot> = {},
  neighbours: Neighbour[] = [],
) {
  const all = slots.map((slot, i) => ({ ...suiting, id: `s${i}`, column: i + 1, x: i * 80, y: 0, ...slot }));
  const others = neighbours.map(({ at, kindId = lot.kindId }, i) => ({
    ...lot,
    ...{ id: `other ${i}`, kindId, slotIds: [`s${at}`], role: 'stays' as const },
  }));
  const problem = new IndexedProblem({ lots: [{ ...lot, ...more }, ...others], slots: all });
  return unplacedReason(problem, 0, problem.currentArrangement(), racks).slice(1);
}

describe('a lot that fits nowhere is told', () => {
  test('what it needs', () => {
    const stepped = { ...lot.care, stepRatio: 1.2, accustomed: 3, isAccustomed: true };
    const said = (more: Partial<PlanLot>) => {
      const problem = new IndexedProblem({ lots: [{ ...lot, ...more }], slots: [{ ...suiting, jet: true }] });
      return unplacedReason(problem, 0, problem.currentArrangement(), racks)[0];
    };
    expect(said({})).toBe('No free slot on these racks suits it: light from 60 to 120, low to medium flow.');
    expect(said({ care: stepped, quarantine: true })).toBe(
      'No free slot on these racks suits it: light from 60 to 120 and at most 1.2 times the daily light it is used to, low to medium flow, in a quarantine tank.',
    );
  });

  test.each<[string, Partial<PlanSlot>, string]>([
    ['a jet', { jet: true }, 'if no jet struck it'],
    ['flow', { flow: 3 }, 'if the flow were otherwise'],
    ['its base', { base: 'sand' }, 'on another base'],
    ['light that is far too dim', { light: light(47) }, 'if it were brighter there'],
    ['light that nobody measured', { light: null }, 'perhaps: the light there was never measured'],
    ['its size', { widthMm: 20 }, 'for a smaller piece'],
    ['quarantine', { quarantine: true }, 'if lots in quarantine could be with others, which they must not'],
    // The ceiling of 150 over 200 is three quarters: 80 % becomes 60 %.
    [
      'light above the ceiling',
      { light: light(200) },
      'if the lamps Bar were at 60 % instead of 80 %, or after an acclimation in steps',
    ],
    // 150 over 500 is less than the two fifths to which lamps are dimmed at most.
    [
      'light far above the ceiling',
      { light: light(500) },
      'if it were dimmer there, or after an acclimation in steps',
    ],
  ])('that a slot would do but for %s', (_, slot, change) => {
    expect(reasons([slot])).toEqual([`1 slot on N2 would do ${change}.`]);
  });

  test('that a slot would do if the neighbours were further away', () => {
    // The neighbour of another kind stands in a slot with a jet, which would not suit the lot itself.
    const slots = [{}, { jet: true }];
    expect(reasons(slots, {}, [{ at: 1, kindId: 'another' }])).toEqual([
      '1 slot on N2 would do if the neighbours were further away.',
    ]);
  });

  test('that lamps of unknown setting would have to be dimmer', () => {
    expect(reasons([{ rackId: 'n3', light: light(200) }])).toEqual([
      '1 slot on N3 would do if it were dimmer there, or after an acclimation in steps.',
    ]);
  });

  test('how far lamps would have to be dimmed for the step from what it is used to', () => {
    // It bears 1.2 times 3.24 mol/m² a day, 120 umol/(m2 s) under these lamps: of 100 % at 150 that is 80 %.
    const care = {
      ...lot.care,
      parCeiling: 400,
      parHigh: 300,
      stepRatio: 1.2,
      accustomed: 3.24,
      isAccustomed: true,
    };
    expect(reasons([{ light: light(150) }], { care })).toEqual([
      '1 slot on N2 would do if the lamps Bar were at 64 % instead of 80 %, or after an acclimation in steps.',
    ]);
  });

  test('how many suitable slots others take', () => {
    expect(reasons([{}, {}], {}, [{ at: 0 }, { at: 1 }])).toEqual([
      '2 slots that suit are taken by lots that are well placed or stay.',
    ]);
  });

  test('the three commonest single limits, rack by rack, the most slots first', () => {
    const slots = [
      { flow: 3 },
      ...[0, 1, 2].map(() => ({ jet: true })),
      ...[0, 1].map(() => ({ rackId: 'n3', jet: true })),
      { rackId: 'n3', base: 'sand' as const },
    ];
    expect(reasons(slots)).toEqual([
      '3 slots on N2 would do if no jet struck them.',
      '2 slots on N3 would do if no jet struck them.',
      '1 slot on N2 would do if the flow were otherwise.',
    ]);
  });

  test('which limits most slots break, where each slot breaks several', () => {
    expect(
      reasons([
        { jet: true, flow: 3 },
        { jet: true, base: 'sand' },
      ]),
    ).toEqual(['Of 2 free slots: a jet at 2, flow unsuited at 1, another base at 1.']);
  });

  test('that a rack is to be emptied, where that alone speaks against its slots', () => {
    expect(reasons([{ emptied: true }])).toEqual(['Of 1 free slot: to be emptied at 1.']);
  });

  test('that no slot is free, where all are closed or taken by lots in places that would not suit it', () => {
    expect(reasons([{ open: false }, { jet: true }], {}, [{ at: 1 }])).toEqual([
      'No slot on these racks is free.',
    ]);
  });
});
