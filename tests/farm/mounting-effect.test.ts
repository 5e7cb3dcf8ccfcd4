import { describe, expect, test } from 'vitest';
import { mountingAt, mountingEffect, type SlotMounting } from '../../src/farm/light/remounting.rules.ts';
import { slotDepthMm } from '../../src/farm/racks/slots.rules.ts';

const mounting = (change: Partial<SlotMounting> = {}): SlotMounting => ({
  at: new Date('2026-01-01T00:00:00Z'),
  place: 'tank 1, left',
  lampId: 'bars',
  depthMm: 300,
  settings: [],
  hours: null,
  ...change,
});

describe('what another mounting does to surveyed light', () => {
  // exp(-1.5 x 0.1) for 10 cm deeper: Beer-Lambert, the coefficient is our own choice. Doubt: half of the change by
  // depth, three tenths under other lamps (own choices), joined as independent uncertainties.
  const left = Math.exp(-0.15);
  test.each<[string, Partial<SlotMounting>, { moved: boolean; ratio: number; doubt: number }]>([
    ['nothing when it is the same', {}, { moved: false, ratio: 1, doubt: 0 }],
    ['nothing but an estimate elsewhere', { place: 'right' }, { moved: true, ratio: 1, doubt: 0 }],
    ['less light deeper', { depthMm: 400 }, { moved: true, ratio: left, doubt: 0.5 * (1 - left) }],
    ['more light higher', { depthMm: 200 }, { moved: true, ratio: 1 / left, doubt: 0.5 * (1 / left - 1) }],
    ['doubt under other lamps', { lampId: 'spots' }, { moved: true, ratio: 1, doubt: 0.3 }],
    [
      'both doubts deeper and under other lamps',
      { depthMm: 400, lampId: null },
      { moved: true, ratio: left, doubt: Math.hypot(0.5 * (1 - left), 0.3) },
    ],
  ])('%s', (_, change, expected) => {
    const effect = mountingEffect(mounting(), mounting(change));
    expect(effect.moved).toBe(expected.moved);
    expect(effect.depthRatio).toBeCloseTo(expected.ratio, 12);
    expect(effect.doubt).toBeCloseTo(expected.doubt, 12);
  });

  test.each([
    ['2025-12-01', 'A'],
    ['2026-01-01', 'A'],
    ['2026-01-31', 'A'],
    ['2026-02-01', 'B'],
    ['2026-05-01', 'B'],
  ])('on %s the mounting in force is %s: the first one also before its time', (day, place) => {
    const at = (date: string) => new Date(`${date}T00:00:00Z`);
    const history = [mounting({ place: 'A' }), mounting({ at: at('2026-02-01'), place: 'B' })];
    expect(mountingAt(history, at(day))?.place).toBe(place);
    expect(mountingAt([], at(day))).toBeUndefined();
  });

  // Two rows of 100 mm at 30 degrees: sin 30 = 1/2, so the rows lie 25 mm above and below the middle (geometry).
  test.each([
    [{ slopeDeg: 30, rows: 2, slotDepthMm: 100 }, [275, 325]],
    [{ slopeDeg: -30, rows: 2, slotDepthMm: 100 }, [325, 275]],
    [{ slopeDeg: 30, rows: 3, slotDepthMm: null }, [275, 300, 325]],
    [{ slopeDeg: 0, rows: 2, slotDepthMm: 100 }, [300, 300]],
  ])('a sloping rack %j has its rows at %j mm', (rack, depths) => {
    const found = depths.map((_, i) => slotDepthMm({ depthMm: 300, ...rack }, i + 1));
    for (const [i, depth] of depths.entries()) expect(found[i]).toBeCloseTo(depth, 9);
  });
});
