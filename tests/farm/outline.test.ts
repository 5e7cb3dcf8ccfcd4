import { describe, expect, test } from 'vitest';
import { type FarmOutline, nextStep } from '../../src/farm/sites/outline.ts';

type System = FarmOutline[number];
type Tank = System['tanks'][number];

const tank = (more: Partial<Tank> = {}): Tank => ({
  ...{ id: 't', name: 'Tank 1', size: '200 × 80 × 40 cm' },
  racks: [{ id: 'r', name: 'Rack', rows: 1, columns: 1, lampId: null }],
  lamps: [{ id: 'l', name: 'Bars' }],
  ...more,
});
const system = (tanks: Tank[], retiredAt: Date | null = null): System => ({
  ...{
    id: 's',
    siteId: 'site',
    name: 'Shallow',
    volume: '',
    volumeL: 1800,
    note: '',
    position: 0,
    version: 1,
    benchOrder: [],
    stockKindId: null,
    undosedSince: null,
    unchangedSince: null,
  },
  ...{ createdAt: new Date('2026-01-01T00:00:00Z'), retiredAt, tanks },
});
const retired = new Date('2026-02-01T00:00:00Z');

describe('the next step of setting up a farm', () => {
  test.each<[string, FarmOutline, string | undefined]>([
    ['without systems, a system', [], 'Add a system'],
    ['with only a retired system, a system', [system([tank()], retired)], 'Add a system'],
    ['with a system without tanks, a tank', [system([])], 'Add a tank'],
    ['with a tank without racks, a rack', [system([tank({ racks: [] })])], 'Add a rack'],
    ['with a tank without lamps, lamps', [system([tank({ lamps: [] })])], 'Add lamps'],
    [
      'a missing rack comes before missing lamps',
      [system([tank({ lamps: [] }), tank({ racks: [] })])],
      'Add a rack',
    ],
    ['with everything there, none', [system([tank()])], undefined],
    ['a retired system is not asked about', [system([tank()]), system([], retired)], undefined],
  ])('%s', (_, systems, action) => {
    expect(nextStep(systems)?.action).toBe(action);
  });
});
