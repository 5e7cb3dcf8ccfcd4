import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { drawRackMiniature } from '../../src/racks/drawing/miniature.ts';
import { roomSummary } from '../../src/racks/overview/overview.rules.ts';
import { roomCell } from '../../src/racks/overview/room.rules.ts';
import { layOutRoom, namesCut } from '../../src/racks/overview/room-plan.rules.ts';
import { type Ground, layGround, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

describe('the farm drawn', () => {
  let bench: Bench;
  let ground: Ground;
  let hand: Visitor;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    ground = await layGround(bench);
    hand = await bench.as('hand');
    const code = 'K52-27T';
    await place(bench, await lot(bench, ground.siteId, code), [ground.slots.A2], '2026-02-01T00:00:00Z');
  });
  afterAll(() => bench.close());

  const drawn = async (address = '/racks') => {
    const { body } = await hand.get(address);
    return body.slice(body.indexOf('class="room"'), body.indexOf('class="small room-key"'));
  };

  test('a rack that was never measured is drawn without light, not as a dark one', async () => {
    const room = await drawn();
    expect(room).toContain('cell light-none');
    expect(room).not.toMatch(/light-\d/);
    expect(room).toContain('class="dot "');
  });

  test('once measured its light is the ground, scaled to how the lamps are set', async () => {
    await turn(bench, ground.lampId, '2026-01-01T00:00:00Z', 50, { litHours: 10, rampHours: 2 });
    await survey(bench, ground, '2026-01-02T00:00:00Z', 50, { A1: 60, A2: 60 });
    expect(await drawn()).toContain('light-1');
    await turn(bench, ground.lampId, '2026-01-03T00:00:00Z', 100, { litHours: 10, rampHours: 2 });
    expect(await drawn()).toContain('light-3');
  });

  test('free slots and what is ready are drawn in views of their own', async () => {
    const slots = Object.keys(ground.slots).length;
    expect(await drawn('/racks?show=free')).toContain(`${slots - 1} free`);
    const ready = await drawn('/racks?show=ready');
    expect(ready).toContain('0 slots');
    expect(ready).toContain('dot other');
    expect((await hand.get('/racks?show=nonsense')).body).toContain('The ground is the light');
  });

  test('a rack leads to its page, a tank to its own', async () => {
    const room = await drawn();
    expect(room).toContain(`href="/racks/${ground.rackId}"`);
    expect(room).toContain(`href="/tanks/${ground.tankId}"`);
  });
  test('placed tanks are drawn in their room, with alerts in place by mark and word', async () => {
    const { db } = bench.service;
    const { siteId, systemId, tankId, rackId } = ground;
    const room = await db.room.create({ data: { siteId, name: 'Back hall' } });
    await db.tankPlace.create({ data: { tankId, roomId: room.id, leftCm: 50, backCm: 0 } });
    const { id: lotId } = await db.lot.findFirstOrThrow();
    const openedAt = new Date('2026-11-20T00:00:00Z');
    const alert = { systemId, facet: '', openedAt, evaluatedAt: openedAt, finding: {} };
    const [now, today] = ['now', 'today'] as const;
    const pales = {
      rule: 'lot-light',
      subjectType: 'lot',
      subjectId: lotId,
      severity: now,
      worst: 1,
    } as const;
    const rises = {
      rule: 'nitrate-creep',
      subjectType: 'system',
      subjectId: systemId,
      severity: today,
      worst: 1,
    } as const;
    await db.alert.create({ data: { ...alert, ...pales, title: 'K52 pales' } });
    await db.alert.create({ data: { ...alert, ...rises, title: 'Nitrate is rising' } });
    for (const path of ['/', '/racks']) {
      const shown = await drawn(path);
      expect(shown).toContain('Back hall');
      expect(shown.match(/class="room-plan/g)).toHaveLength(2);
      expect(shown).toContain(`href="/tanks/${tankId}"`);
      expect(shown).toContain(`<a href="/racks/${rackId}"><title>Window rack, 1 now, 1 lot</title>`);
      expect(shown).toContain('Nitrate is rising');
      expect(shown).not.toContain('K52 pales');
    }
    await db.tank.create({
      data: { systemId, name: 'New tank', lengthMm: 900, widthMm: 600, heightMm: 400, position: 1 },
    });
    const { body } = await hand.get('/racks');
    expect(body).toMatch(/room-tank-name[^>]*>New tank<\/a>\s*<p class="small">No rack in it yet/);
  });
});

describe('the plan of a room', () => {
  const unplaced = { leftMm: null, backMm: null, slotWidthMm: null, slotDepthMm: null };
  const rack = (name: string, place: object = {}) => ({
    ...{ id: name, name, rows: 5, columns: 14, now: 0, today: 0, ...unplaced },
    ...place,
  });
  const tank = (id: string, leftCm: number, backCm: number, more = {}) => ({
    ...{ id, name: id, lengthMm: 2400, widthMm: 700, leftCm, backCm, turned: false },
    racks: [rack('A'), rack('B'), rack('C')],
    ...more,
  });
  test('keeps what is beside and in front of what, without the empty floor', () => {
    const plan = layOutRoom([tank('back', 500, 200), tank('front', 500, 800)], 480);
    expect(plan?.tanks.map(({ x, width }) => [Math.round(x), Math.round(width)])).toEqual([
      [1, 478],
      [1, 478],
    ]);
    const [back, front] = plan?.tanks ?? [];
    expect(front?.y).toBeGreaterThan((back?.y ?? 0) + (back?.height ?? 0));
    expect(plan?.height).toBeLessThan(480);
  });
  test('tells the names that it has no room to write whole', () => {
    const long = 'Nursery back rack, second shelf, for the smallest pieces';
    const plan = layOutRoom([tank('one', 0, 0, { racks: [rack('A'), rack(long)] })], 480);
    expect(plan === null ? [] : namesCut(plan)).toEqual([long]);
  });
  test('a turned tank stands across, and its racks with it', () => {
    const [turned] = layOutRoom([tank('one', 0, 0, { turned: true, racks: [rack('A')] })], 480)?.tanks ?? [];
    expect(turned?.height).toBeGreaterThan(turned?.width ?? 0);
    expect(turned?.racks[0]?.height).toBeGreaterThan(turned?.racks[0]?.width ?? 0);
  });
  test('draws racks at their places in their tank where those are known', () => {
    const racks = [rack('A', { leftMm: 100, backMm: 50 }), rack('B', { leftMm: 1400, backMm: 400 })];
    const [one] = layOutRoom([tank('one', 0, 0, { racks })], 1000)?.tanks ?? [];
    const [a, b] = one?.racks ?? [];
    expect((b?.x ?? 0) - (a?.x ?? 0)).toBeGreaterThan(300);
    expect((b?.y ?? 0) - (a?.y ?? 0)).toBeGreaterThan(30);
    const [turned] = layOutRoom([tank('one', 0, 0, { racks, turned: true })], 1000)?.tanks ?? [];
    const [c, d] = turned?.racks ?? [];
    expect(d?.x).toBeLessThan(c?.x ?? 0);
    expect(d?.y).toBeGreaterThan(c?.y ?? 0);
    const aboveAnother = [racks[0], rack('B', { leftMm: 120, backMm: 60 })];
    const [flat] = layOutRoom([tank('one', 0, 0, { racks: aboveAnother })], 1000)?.tanks ?? [];
    const [e, f] = flat?.racks ?? [];
    expect(f?.x).toBeGreaterThan((e?.x ?? 0) + (e?.width ?? 0));
  });
  test('is not drawn where a tank would be too small to hit', () => {
    const row = Array.from({ length: 12 }, (_, i) => tank(`T${i}`, i * 300, 0));
    expect(layOutRoom(row, 340)).toBeNull();
    expect(layOutRoom(row.slice(0, 2), 1000)).not.toBeNull();
  });
});

describe('a slot in the drawing', () => {
  const slot = { rackId: 'r', row: 1, column: 2, par: 150, lotId: 'lot', severity: 'now' } as const;
  test('shows the alert of its lot, and nothing for what is only watched', () => {
    expect(roomCell(slot, 'light', new Set()).dot).toBe('now');
    expect(roomCell({ ...slot, severity: 'watch' }, 'light', new Set()).dot).toBe('');
    expect(roomCell({ ...slot, lotId: null, severity: null }, 'light', new Set()).dot).toBeNull();
  });
  test('is free only without a lot', () => {
    expect(roomCell(slot, 'free', new Set()).dot).toBeNull();
    expect(roomCell({ ...slot, lotId: null }, 'free', new Set()).dot).toBe('free');
  });
  test('of 240 slots is drawn in few paths', () => {
    const cells = Array.from({ length: 240 }, (_, i) => ({
      ...{ row: 1 + Math.floor(i / 20), column: 1 + (i % 20) },
      tone: `light-${i % 7}`,
      dot: i % 2 === 0 ? ('' as const) : null,
    }));
    const svg = drawRackMiniature(cells, { rows: 12, columns: 20 }, 168);
    expect(svg.match(/<path/g)).toHaveLength(8);
    expect(svg).toContain('width="168"');
  });
});

describe('the sentence over the drawing', () => {
  const rack = (name: string, now: number, today: number) => ({ name, now, today });
  test('names the racks to look at, the worst first', () => {
    expect(roomSummary([rack('A', 1, 0), rack('B', 4, 9)])).toBe('Look at B, A now.');
    expect(roomSummary([rack('A', 0, 2)])).toBe('Look at A today.');
    expect(roomSummary(['A', 'B', 'C', 'D', 'E'].map((name) => rack(name, 1, 0)))).toBe(
      'Look at A, B, C and 2 more now.',
    );
  });
  test('says no more than that no alert is open, where none is', () => {
    expect(roomSummary([rack('A', 0, 0)])).toBe('No lot on a rack has an alert for today.');
  });
});
