import { describe, expect, test } from 'vitest';
import type { KitFact } from '../../src/watch/facts/types.ts';
import { kitUnfit } from '../../src/watch/rules/instruments/kit-unfit.ts';
import { blankSystem, dayZero, find, madeId, onDay, reading } from './facts.ts';

const check = (day: number) => ({
  id: madeId(),
  day: dayZero + day,
  at: onDay(day).toISOString(),
  standard: 3,
  value: 3.02,
  u: 0.05,
});

/** A kit opened on day 0 that is used every day until `until`. */
function kit(until: number, more: Partial<KitFact> = {}): KitFact {
  const id = madeId();
  const readings = Array.from({ length: 40 }, (_, i) => reading(until - 39 + i, 3, 0.05, { kitId: id }));
  return {
    id,
    label: 'Alkalinity, set 3',
    quantityCode: 'alkalinity',
    methodName: 'drop titration',
    u: 0.05,
    openedDay: dayZero,
    openedAt: onDay(0).toISOString(),
    expiresDay: null,
    uses: null,
    used: 40,
    laboratory: false,
    probe: false,
    checks: [check(until - 5)],
    systems: [{ systemId: 'a', name: 'Long run', firstDay: dayZero, readings }],
    ...more,
  };
}
const on = (day: number, ...kits: KitFact[]) => find(kitUnfit, blankSystem({ kits }), day);
const titles = (day: number, ...kits: KitFact[]) => on(day, ...kits).map(({ title }) => title);

describe('a kit is unfit', () => {
  test('not while it is fresh, in date and checked', () => {
    expect(on(100, kit(100))).toEqual([]);
  });

  test('the day after its date, and not on it', () => {
    expect(titles(100.5, kit(100, { expiresDay: dayZero + 100 }))).toEqual([]);
    const [found] = on(101.5, kit(101, { expiresDay: dayZero + 100 }));
    expect(found).toMatchObject({ severity: 'watch', title: 'Alkalinity, set 3: past its date' });
  });

  test('fourteen months after it was opened', () => {
    const [found] = on(425, kit(425));
    expect(found?.title).toContain('open for long');
    expect(found?.numbers).toContain('425 days ago');
  });

  test('when it has had as many tests as it is good for', () => {
    expect(titles(30, kit(30, { uses: 50, used: 49 }))).toEqual([]);
    expect(on(30, kit(30, { uses: 50, used: 52 }))[0]?.numbers).toBe(
      '52 tests were made with it, good for 50',
    );
  });

  test('unchecked for two months where the farm checks kits', () => {
    const never = kit(70, { checks: [] });
    expect(titles(70, never, kit(70))).toEqual(['Alkalinity, set 3: unchecked']);
    expect(titles(50, kit(50, { checks: [] }), kit(50))).toEqual([]);
  });

  test('not for want of checks where nobody checks and the quantity is not kept; but where it is kept', () => {
    const never = kit(70, { checks: [] });
    expect(on(70, never)).toEqual([]);
    const kept = new Map([
      ['alkalinity', { bandLow: 2.8, bandHigh: 3.2, limitHigh: null, makeUp: null, source: 'own' }],
    ]);
    expect(find(kitUnfit, blankSystem({ kits: [never], kept }), 70)).toHaveLength(1);
  });

  test('unchecked for twice as long where it reads as the bottle before it did', () => {
    const step = (by: number) => {
      const id = madeId();
      const readings = Array.from({ length: 130 }, (_, i) =>
        reading(i - 40, (i < 40 ? 3 : 3 * (1 + by)) + 0.02 * Math.sin(i * 2.3), 0.05, {
          kitId: i < 40 ? 'before' : id,
        }),
      );
      const systems = [{ systemId: 'a', name: 'Long run', firstDay: dayZero, readings }];
      return kit(90, { id, checks: [], systems });
    };
    const other = kit(90);
    expect(titles(90, step(0), other)).toEqual([]);
    expect(titles(90, step(0.08), other)).toEqual(['Alkalinity, set 3: unchecked']);
    const older = { ...step(0), openedDay: dayZero - 30 };
    const [found] = on(90, older, other);
    expect(found?.limit).toMatchObject({ text: '16' });
  });

  test('for several reasons in one alert', () => {
    const bad = kit(430, { expiresDay: dayZero + 365, uses: 30, used: 40, checks: [] });
    const kept = new Map([
      ['alkalinity', { bandLow: 2.8, bandHigh: 3.2, limitHigh: null, makeUp: null, source: 'own' }],
    ]);
    const found = find(kitUnfit, blankSystem({ kits: [bad], kept }), 430);
    expect(found.map(({ title }) => title)).toEqual([
      'Alkalinity, set 3: past its date, used up, open for long, unchecked',
    ]);
    expect(found[0]?.figures).toHaveLength(4);
  });

  test('not when nobody uses it, nor when it is a probe or a laboratory', () => {
    expect(on(300, kit(100, { expiresDay: dayZero + 90 }))).toEqual([]);
    expect(on(430, kit(430, { probe: true }), kit(430, { laboratory: true }))).toEqual([]);
  });
});
