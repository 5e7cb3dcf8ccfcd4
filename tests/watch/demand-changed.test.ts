import { describe, expect, test } from 'vitest';
import { demandChanged } from '../../src/watch/rules/demand/demand-changed.ts';
import { median } from '../science/worlds.ts';
import { dkh, knownOn, type UsePlan, useWorld } from './demand-worlds.ts';
import { blankSystem, dayZero, find, firing, reading } from './facts.ts';

// Delays and false alerts: simulated worlds of tests/watch/demand-worlds.ts, figures in the rule's own sources.

const seeds = Array.from({ length: 7 }, (_, i) => 11 + i * 17);

const firingOn = (plan: UsePlan, days: readonly number[]) => {
  const world = useWorld(plan);
  return days.filter((day) => firing(find(demandChanged, knownOn(world, day), day)).length > 0);
};

/** Days from the onset to the first alert, looking every second day. */
function delay(plan: Omit<UsePlan, 'days'> & { onset: number }): number {
  const world = useWorld({ ...plan, days: plan.onset + 60 });
  for (let day = plan.onset; day < plan.onset + 60; day += 2) {
    if (firing(find(demandChanged, knownOn(world, day), day)).length > 0) return day - plan.onset;
  }
  return Number.POSITIVE_INFINITY;
}

describe('the demand rule', () => {
  test('stays silent while the stock grows by a tenth a month', () => {
    const looks = Array.from({ length: 14 }, (_, i) => 120 + i * 14);
    const alerts = seeds.flatMap((seed) => firingOn({ seed, days: 310, growth: 0.0035 }, looks));
    expect(alerts.length).toBeLessThanOrEqual(2);
  });

  test('finds within three weeks that half as much is used', () => {
    const delays = seeds.map((seed) => delay({ seed, onset: 150, factor: 0.5 }));
    expect(median(delays)).toBeGreaterThan(2);
    expect(median(delays)).toBeLessThan(15);
    expect(Math.max(...delays)).toBeLessThan(30);
  });

  test('finds a fall by a third in stock that grows as it does in stock that stands', () => {
    for (const growth of [0, 0.0025, 0.005]) {
      const delays = seeds.map((seed) => delay({ seed, onset: 180, factor: 2 / 3, gap: 2, growth }));
      expect(median(delays), `growth of ${growth} a day`).toBeLessThan(22);
    }
  });

  test('says by how much it fell, against what, and asks whether stock left', () => {
    const world = useWorld({ seed: 5, days: 200, onset: 150, factor: 0.45 });
    const [finding] = find(demandChanged, knownOn(world, 170), 170);
    expect(finding).toMatchObject({ status: 'fires', severity: 'today', subject: { type: 'system' } });
    expect(finding?.title).toMatch(/^Long run: alkalinity use fell by [3-7]\d %$/);
    expect(finding?.numbers).toMatch(/^0\.\d+ dKH a day over \d+ days, usually 0\.\d+ dKH a day$/);
    expect(finding?.limit.source).toMatch(/^Own use since \d+ \w+ \d+, in \d+ windows of \d+ days/);
    expect(finding?.question).toMatch(/^Was stock sold or moved out/);
    expect(finding?.evidence.length).toBeGreaterThan(15);
  });

  test('asks about the log first where the doses stop and the level stays', () => {
    const world = useWorld({ seed: 5, days: 200 });
    const silent = { ...world, doses: world.doses.filter(({ day }) => day < dayZero + 150) };
    const [finding] = find(demandChanged, knownOn(silent, 172), 172);
    expect(finding).toMatchObject({ status: 'fires', severity: 'watch' });
    expect(finding?.title).toBe('Long run: less alkalinity used, or doses unlogged');
    expect(finding?.question).toMatch(/^Were doses given that nobody logged/);
  });

  test('asks what a product raises where one of unknown effect takes the place of the doses and the level stays', () => {
    const world = useWorld({ seed: 5, days: 200 });
    const other = { substance: 'alk part', quantityCode: null, rise: null };
    const doses = world.doses.map((dose) => (dose.day < dayZero + 150 ? dose : { ...dose, ...other }));
    const [finding] = find(demandChanged, knownOn({ ...world, doses }, 172), 172);
    expect(finding).toMatchObject({ status: 'fires', severity: 'watch' });
    expect(finding?.title).toBe('Long run: less alkalinity used, or a product of unknown effect raises it');
    expect(finding?.question).toContain('Does “alk part” raise alkalinity?');
    expect(JSON.stringify(finding)).not.toContain('lower the daily dose');
  });

  test('says nothing in the first two months, nor where no use is known', () => {
    const young = useWorld({ seed: 8, days: 60, onset: 45, factor: 0.3 });
    expect(find(demandChanged, knownOn(young, 58), 58)).toEqual([]);
    const undosed = blankSystem({
      readings: new Map([
        ['alkalinity', Array.from({ length: 200 }, (_, day) => reading(day, 8.2 * dkh, 0.1 * dkh))],
      ]),
    });
    expect(find(demandChanged, undosed, 200)).toEqual([]);
  });

  test('leaves out what is unconfirmed, and does not take a new kit for a change', () => {
    const world = useWorld({ seed: 21, days: 170 });
    const readings = world.readings.get('alkalinity') ?? [];
    const bent = readings.map((one) =>
      one.day > dayZero + 160
        ? { ...one, value: one.value - 0.3 * dkh * (one.day - dayZero - 160), trust: 'unconfirmed' as const }
        : one.day > dayZero + 152
          ? { ...one, value: one.value * 1.06, kitId: 'another' }
          : one,
    );
    const facts = { ...world, readings: new Map([['alkalinity', bent]]) };
    expect(firing(find(demandChanged, facts, 165))).toEqual([]);
  });

  test('looks into the doser before it looks at the corals, where nobody knows what it gave', () => {
    const world = useWorld({ seed: 5, days: 200, onset: 150, factor: 0.45 });
    const byDoser = { ...world, doses: world.doses.map((dose) => ({ ...dose, doserId: 'doser' })) };
    const [finding] = find(demandChanged, knownOn(byDoser, 170), 170);
    expect(finding?.title).toMatch(/^Long run: alkalinity use fell by [3-7]\d %, or its doser gives more$/);
    expect(finding?.firstStep).toMatch(/^Look into the doser’s container today/);
    expect(finding?.causes).toContainEqual(
      expect.objectContaining({ rule: 'out-of-band', facet: 'alkalinity' }),
    );
    const looked = [130, 137, 144, 151, 158, 165].map((day) => ({
      ...{ doserId: 'doser', quantityCode: 'alkalinity', factor: 1 },
      ...{ fromDay: dayZero + day, toDay: dayZero + day + 7 },
    }));
    const [seen] = find(demandChanged, knownOn({ ...byDoser, looked }, 172), 172);
    expect(seen?.title).toMatch(/^Long run: alkalinity use fell by [3-7]\d %$/);
    expect(seen?.causes).toEqual([]);
  });

  test('is part of a swing that is told, by a fall that only the shortest days show; not by one that twice as many do', () => {
    const world = useWorld({ seed: 5, days: 200, onset: 150, factor: 0.45 });
    const found = Array.from({ length: 15 }, (_, i) => 156 + 3 * i).flatMap((day) =>
      firing(find(demandChanged, knownOn(world, day), day)),
    );
    const isPart = ({ causes }: (typeof found)[number]) =>
      causes.some(({ rule, facet }) => rule === 'alkalinity-unsteady' && facet === '');
    // Tests are daily: ten days are the shortest, and less than one and a half times that is short.
    const [short, long] = [true, false].map((isShort) =>
      found.filter(({ numbers }) => Number(/over (\d+) days/.exec(numbers)?.[1]) < 15 === isShort),
    );
    expect(short?.map(isPart)).toContain(true);
    expect(short?.map(isPart)).not.toContain(false);
    expect(long?.map(isPart)).toContain(false);
    expect(long?.map(isPart)).not.toContain(true);
  });

  test('says that more goes in than is logged where the level rises by more than all doses', () => {
    const world = useWorld({ seed: 5, days: 170 });
    const readings = (world.readings.get('alkalinity') ?? []).map((one) =>
      one.day > dayZero + 158 ? { ...one, value: one.value + 0.6 * dkh * (one.day - dayZero - 158) } : one,
    );
    const facts = { ...world, readings: new Map([['alkalinity', readings]]) };
    const [finding] = find(demandChanged, knownOn(facts, 168), 168);
    expect(finding?.title).toBe('Long run: more alkalinity goes in than is logged');
    expect(finding?.firstStep).toMatch(/^Stop the doser/);
  });
});
