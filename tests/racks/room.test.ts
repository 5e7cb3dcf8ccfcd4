import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { drawRackMiniature } from '../../src/racks/drawing/miniature.ts';
import { roomSummary } from '../../src/racks/overview/overview.rules.ts';
import { roomCell } from '../../src/racks/overview/room.rules.ts';
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
