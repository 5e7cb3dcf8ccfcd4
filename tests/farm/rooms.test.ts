import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { footprint, freeSpots, overlapping, reach } from '../../src/farm/rooms/floor.rules.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { type Ground, layGround } from './ground.ts';

describe('where the tanks are', () => {
  let bench: Bench;
  let ground: Ground;
  let manager: Visitor;
  let second: string;
  let roomId: string;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    ground = await layGround(bench);
    manager = await bench.as('manager');
    const { db } = bench.service;
    const tank = { systemId: ground.systemId, name: 'Far tank', lengthMm: 1200, widthMm: 600, heightMm: 400 };
    second = (await db.tank.create({ data: { ...tank, position: 1 } })).id;
  });
  afterAll(() => bench.close());

  const version = async () =>
    (await bench.service.db.room.findUniqueOrThrow({ where: { id: roomId } })).version;
  const save = async (typed: Record<string, string>) =>
    manager.post(`/farm/rooms/${roomId}`, { name: 'Hall', version: String(await version()), ...typed });
  const places = () => bench.service.db.tankPlace.findMany({ orderBy: { leftCm: 'asc' } });

  test('a room is added, and its tanks are placed by numbers', async () => {
    const added = await manager.post('/farm/rooms', { name: 'Hall' });
    roomId = (await bench.service.db.room.findFirstOrThrow()).id;
    expect(added.location).toBe(`/farm/rooms/${roomId}`);
    const { body } = await manager.get(`/farm/rooms/${roomId}`);
    expect(body).toContain('2 tanks in no room yet');
    await save({
      [`left_${ground.tankId}`]: '40',
      [`back_${ground.tankId}`]: '0',
      [`turned_${ground.tankId}`]: 'yes',
    });
    expect(await places()).toEqual([{ tankId: ground.tankId, roomId, leftCm: 40, backCm: 0, turned: true }]);
    expect((await manager.get('/farm/rooms')).body).toContain('1 tank');
  });

  test('one number alone, or one out of bounds, is refused and says what to do', async () => {
    const half = await save({ [`left_${second}`]: '100' });
    expect(half.status).toBe(422);
    expect(half.body).toContain('Enter both distances, or leave both empty');
    const far = await save({ [`left_${second}`]: '10001', [`back_${second}`]: '0' });
    expect(far.body).toContain('from 0 to 10000 cm');
    expect(await places()).toHaveLength(1);
    await expect(
      bench.service.pool.query(`UPDATE tank_place SET left_cm = -1 WHERE tank_id = '${ground.tankId}'`),
    ).rejects.toThrow('tank_place_within_room');
  });

  test('those in no room can be placed as they are drawn, and that can be undone', async () => {
    const sent = await save({ [`left_${ground.tankId}`]: '0', [`back_${ground.tankId}`]: '0', rest: 'yes' });
    expect(sent.location).toBe(`/farm/rooms/${roomId}`);
    expect(await places()).toHaveLength(2);
    const { body } = await manager.get(sent.location ?? '');
    const undo = /action="(\/undo\/[^"]+)"/.exec(body)?.[1] ?? '';
    await manager.post(undo, {});
    expect(await places()).toEqual([{ tankId: ground.tankId, roomId, leftCm: 40, backCm: 0, turned: true }]);
  });

  test('a tank left empty is in no room again; a stale form is not saved over another', async () => {
    await save({ [`left_${second}`]: '300', [`back_${second}`]: '0' });
    expect((await places()).map(({ tankId }) => tankId)).toEqual([second]);
    const stale = await manager.post(`/farm/rooms/${roomId}`, { name: 'Hall', version: '1' });
    expect(stale.status).toBe(409);
    expect(stale.body).toContain('There now: Hall, with 1 tank.');
  });

  test('the database keeps a tank in rooms of its own site', async () => {
    const { db } = bench.service;
    const other = await db.site.create({ data: { name: 'Far yard', timeZone: 'UTC' } });
    const room = await db.room.create({ data: { siteId: other.id, name: 'Hall' } });
    await expect(
      db.tankPlace.create({ data: { tankId: ground.tankId, roomId: room.id, leftCm: 0, backCm: 0 } }),
    ).rejects.toThrow('room of its own site');
    expect((await manager.get(`/farm/rooms/${room.id}`)).status).toBe(404);
  });
});

describe('the floor of a room', () => {
  const tank = { lengthMm: 2400, widthMm: 700 };
  test('a turned tank runs to the front', () => {
    expect(footprint(tank, false)).toEqual({ widthCm: 240, depthCm: 70 });
    expect(footprint(tank, true)).toEqual({ widthCm: 70, depthCm: 240 });
  });
  test('tanks that nobody placed stand in front of the others, and none covers another', () => {
    const placed = [{ leftCm: 0, backCm: 0, ...footprint(tank, true) }];
    const spots = freeSpots(placed, [tank, tank, tank, tank]);
    expect(Math.min(...spots.map(({ backCm }) => backCm))).toBeGreaterThan(reach(placed).depthCm);
    expect(overlapping([...placed, ...spots])).toEqual([]);
    expect(reach(spots).widthCm).toBeLessThanOrEqual(600);
  });
  test('names those that cover one another', () => {
    const box = { leftCm: 0, backCm: 0, widthCm: 10, depthCm: 10 };
    expect(overlapping([box, { ...box, leftCm: 9 }, { ...box, leftCm: 30 }])).toHaveLength(1);
  });
});
