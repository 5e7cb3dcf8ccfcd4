import { describe, expect, test } from 'vitest';
import { facingWords, layOutTank, type PlanRack } from '../../src/racks/drawing/tank-plan.rules.ts';

const rack = (name: string, more: Partial<PlanRack> = {}): PlanRack => ({
  ...{ id: name, name, rows: 2, columns: 4, depthMm: 300, leftMm: null, backMm: null },
  ...{ slotWidthMm: 100, slotDepthMm: 100, lampName: null },
  ...more,
});
const tank = { lengthMm: 2000, widthMm: 800 };
const pump = { name: 'Left pump', leftMm: 100, backMm: 400, facingDeg: 0 };

describe('the plan of a tank', () => {
  test('without any place known the racks stand side by side, not to scale, and no pump is drawn', () => {
    const plan = layOutTank(tank, [rack('Back'), rack('Front')], [pump]);
    const [first, second] = plan.racks;
    expect(plan.scaled).toBe(false);
    expect(first?.width).toBe(second?.width);
    expect(second?.x).toBeGreaterThan((first?.x ?? 0) + (first?.width ?? 0));
    expect(plan).toMatchObject({ pumps: [], lamps: [], unplaced: [] });
  });

  test('with places known it is to scale, and names what has none', () => {
    const placed = rack('Back', { leftMm: 200, backMm: 100 });
    const lost = { ...pump, name: 'Right pump', leftMm: null, backMm: null };
    const plan = layOutTank(tank, [placed, rack('Front')], [pump, lost]);
    const perMm = plan.tank.width / tank.lengthMm;
    expect(plan.tank.height).toBeCloseTo(tank.widthMm * perMm, 9);
    const [drawn] = plan.racks;
    expect(drawn?.width).toBeCloseTo(400 * perMm, 9);
    expect(drawn?.x).toBeCloseTo(plan.tank.x + 200 * perMm, 9);
    expect(plan.pumps).toMatchObject([{ number: 1, name: 'Left pump' }]);
    expect(plan.unplaced).toEqual(['Front', 'Right pump']);
  });

  test('a rack above another is drawn last, and its label covers no other', () => {
    const at = { leftMm: 200, backMm: 100, rows: 6 };
    const plan = layOutTank(tank, [rack('High', { ...at, depthMm: 100 }), rack('Deep', at)], []);
    expect(plan.racks.map(({ id }) => id)).toEqual(['Deep', 'High']);
    const [deep, high] = plan.racks.map(({ lines }) => lines.map(({ y }) => y));
    expect(deep).toHaveLength(2);
    expect(Math.min(...(high ?? []))).toBeGreaterThan(Math.max(...(deep ?? [])));
  });

  test('a box goes round all racks under one set of lamps', () => {
    const left = rack('Left', { leftMm: 0, backMm: 0, lampName: 'Bars' });
    const right = rack('Right', { leftMm: 1000, backMm: 0, lampName: 'Bars' });
    const { lamps, racks } = layOutTank(tank, [left, right], []);
    expect(lamps.map(({ name }) => name)).toEqual(['Bars']);
    for (const { x, width } of racks) {
      expect(lamps[0]?.x).toBeLessThan(x);
      expect((lamps[0]?.x ?? 0) + (lamps[0]?.width ?? 0)).toBeGreaterThan(x + width);
    }
  });

  test.each([
    [null, 'not said'],
    [0, 'to the right'],
    [90, 'to the front'],
    [170, 'to the left'],
    [270, 'to the back'],
    [338, 'to the right'],
  ])('a pump that faces %s blows %s', (degrees, words) => {
    expect(facingWords(degrees)).toBe(words);
  });
});
