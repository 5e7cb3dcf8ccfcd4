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

  test('of a kit that reads 10 % low says from use alone that two bottles differ, and names it once its checks tell', () => {
    const told = (checked: boolean) => seeds.flatMap((seed) => found({ seed, gain: 0.9, checked }));
    const byUse = told(false);
    expect(byUse.length).toBeGreaterThan(30);
    for (const { title, firstStep, numbers } of byUse) {
      expect(title).toMatch(/^Alkalinity set 2: it and the bottle before differ by \d+ %$/);
      expect(numbers).toMatch(/lower/);
      expect(firstStep).toMatch(/^Test a standard in duplicate today/);
      expect(firstStep).not.toContain('Put this kit away');
    }
    const named = told(true).filter(({ title }) => title === 'Alkalinity set 2: the kit reads low');
    expect(named.length).toBeGreaterThan(35);
  });

  /** What is told of both where the standard clears the kit in use, on a farm that has these kits beside it. */
  const toldBeside = (others: readonly KitFact[]) =>
    seeds.flatMap((seed) => {
      const kit = kitOf({ seed, gain: 1, checked: true, used: 40 });
      const [system] = kit.systems;
      const readings = system?.readings.map((one) =>
        one.kitId === 'before' ? { ...one, value: 1.12 * one.value } : one,
      );
      const systems = system === undefined ? [] : [{ ...system, readings: readings ?? [] }];
      const kits = [{ ...kit, systems }, ...others];
      return firing(find(kitBiased, blankSystem({ kits }), opened + 41));
    });

  test('names the bottle before where the standard clears the one in use, and leaves that one alone', () => {
    const told = toldBeside([blankKit({ id: 'before', label: 'The bottle before' })]);
    const old = told.filter(({ subject }) => subject.id === 'before');
    expect(old.length).toBeGreaterThan(30);
    for (const { title } of old) expect(title).toBe('The bottle before: it reads high, by the standard');
    expect(told.length - old.length).toBeLessThan(4);
  });

  test('says nothing of a bottle that nobody uses any more: its alert would end and open at each evaluation', () => {
    expect(toldBeside([]).filter(({ subject }) => subject.id === 'before')).toEqual([]);
  });

  test('takes no real fall of the water for a bottle', () => {
    // From the opening on, 0.1 dKH a day at 8.2 dKH.
    const told = seeds.filter((seed) => {
      const kit = kitOf({ seed, gain: 1, used: 15 });
      const [system] = kit.systems;
      const readings = system?.readings.map((one) => ({
        ...one,
        value: one.value * (1 - 0.0122 * Math.max(0, one.day - dayZero - opened)),
      }));
      const systems = system === undefined ? [] : [{ ...system, readings: readings ?? [] }];
      return firing(find(kitBiased, blankSystem({ kits: [{ ...kit, systems }] }), opened + 15)).length > 0;
    });
    expect(told.length).toBeLessThan(8);
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
      .map((seed) => found({ seed, gain: 0.93, used: 10 })[0])
      .filter((finding) => finding?.severity === 'watch');
    expect(suspects.length).toBeGreaterThan(0);
    for (const suspect of suspects) {
      expect(suspect?.title).toMatch(/^Alkalinity set 2: it and the bottle before differ by \d+ %$/);
      expect(suspect?.firstStep).toMatch(/^Test a standard in duplicate/);
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
