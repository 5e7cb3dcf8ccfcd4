import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/science/statistics/random.ts';
import type { KitFact } from '../../src/watch/facts/types.ts';
import { kitBiased } from '../../src/watch/rules/instruments/kit-biased.ts';
import { blankKit, blankSystem, dayZero, find, firing, madeId, onDay, reading } from './facts.ts';

// Powers: the simulation study in DEVELOPERS.md; alkalinity tests to 0.2 dKH (2.4 %) daily in water that wanders.

interface Plan {
  seed: number;
  gain: number;
  /** Days of use, and whether its standard was tested in duplicate on day 7 and day 35 of it. */
  used?: number;
  checked?: boolean;
}

const opened = 150;

function kitOf({ seed, gain, used = 30, checked = false }: Plan): KitFact {
  const random = seededRandom(seed);
  let wander = 0;
  const readings = Array.from({ length: opened + used }, (_, day) => {
    wander = 0.95 * wander + 0.008 * random.normal();
    const mine = day >= opened;
    const value = 3 * (1 + wander) * (mine ? gain : 1) * (1 + 0.024 * random.normal());
    return reading(day, value, 0.072, { kitId: mine ? 'mine' : 'before' });
  });
  const tests = checked ? [7, 7, 35, 35].filter((day) => day < used) : [];
  return blankKit({
    id: 'mine',
    label: 'Alkalinity set 2',
    openedDay: dayZero + opened,
    openedAt: onDay(opened).toISOString(),
    checks: tests.map((day) => ({
      id: madeId(),
      day: dayZero + opened + day,
      at: onDay(opened + day).toISOString(),
      standard: 3,
      value: 3 * gain * (1 + 0.024 * random.normal()),
      u: 0.072,
    })),
    systems: [{ systemId: madeId(), name: 'Long run', firstDay: dayZero + opened, readings }],
  });
}

const found = (plan: Plan) => firing(find(kitBiased, blankSystem({ kits: [kitOf(plan)] }), opened + 30));
const seeds = Array.from({ length: 40 }, (_, i) => i + 1);

describe('the rule on kits', () => {
  test('leaves a true kit alone', () => {
    expect(seeds.filter((seed) => found({ seed, gain: 1, checked: true }).length > 0).length).toBeLessThan(3);
  });

  test('leaves a true kit alone when it is looked at after every test of its first weeks', () => {
    const suspected = seeds.filter((seed) => {
      const looks = Array.from({ length: 16 }, (_, i) =>
        kitOf({ seed: 300 + seed, gain: 1, used: i + 1, checked: true }),
      );
      return looks.some(
        (kit) => firing(find(kitBiased, blankSystem({ kits: [kit] }), opened + 30)).length > 0,
      );
    });
    expect(suspected.length).toBeLessThan(3);
  });

  test('names a kit that reads 10 % low, most often from use alone and surely with its checks', () => {
    const named = (checked: boolean) =>
      seeds.filter((seed) => found({ seed, gain: 0.9, checked })[0]?.severity === 'today').length;
    expect(named(false)).toBeGreaterThan(20);
    expect(named(true)).toBeGreaterThan(35);
  });

  test('says what its readings would be, keeps the water out of it, and shows checks and readings', () => {
    const [finding] = found({ seed: 2, gain: 0.88, checked: true });
    expect(finding).toMatchObject({
      subject: { type: 'kit', id: 'mine' },
      title: 'Alkalinity set 2: the kit reads low',
      severity: 'today',
    });
    expect(finding?.why).toMatch(/The 30 tests with this kit read/);
    expect(finding?.firstStep).toMatch(/^Put this kit away/);
    expect(finding?.evidence.map(({ kind }) => kind)).toEqual(expect.arrayContaining(['check', 'reading']));
  });

  test('what may be the kit or the water makes a suspect, no verdict', () => {
    const suspects = seeds
      .map((seed) => found({ seed, gain: 0.94, used: 10 })[0])
      .filter((finding) => finding?.severity === 'watch');
    expect(suspects.length).toBeGreaterThan(0);
    for (const suspect of suspects) {
      expect(suspect?.title).toBe('Alkalinity set 2: kit or water, the kit is a suspect');
      expect(suspect?.firstStep).toMatch(/^Test the standard in duplicate/);
    }
  });

  test('cannot be told from one check, and is silent then', () => {
    const kit = kitOf({ seed: 3, gain: 1, checked: true });
    const [first] = kit.checks;
    const alone = { ...kit, systems: [], checks: first === undefined ? [] : [{ ...first, value: 2.9 }] };
    expect(find(kitBiased, blankSystem({ kits: [alone] }), opened + 30)).toEqual([]);
  });

  test('a bias too small to matter is not worth a word', () => {
    expect(seeds.filter((seed) => found({ seed, gain: 0.98, checked: true }).length > 0).length).toBeLessThan(
      3,
    );
  });
});
