import type { Farm } from './farm.ts';
import type { DemoTables } from './rows.ts';
import type { World } from './world.ts';

/** Where a tank is in its room: cm from the left and from the back; a room for each system. */
const PLACES: Readonly<Record<string, readonly [leftCm: number, backCm: number, turned?: 'turned']>> = {
  'Raceway 1': [0, 0],
  'Raceway 2, north wall, for healed pieces, waiting for buyers': [0, 130],
  'Shallow A': [0, 0],
  'Shallow B': [0, 150],
  Mothers: [0, 0],
  Nursery: [60, 140],
  'Bench 1': [0, 0],
  'Bench 2': [0, 130],
  'Bench 3': [250, 0, 'turned'],
};

/** Places the tanks of each system in a room of its name. */
export function placeTheTanks(world: World, farm: Farm, rows: DemoTables): void {
  for (const [position, { plan, tanks }] of farm.systems.entries()) {
    const at = world.at(0, 6);
    const roomId = world.id(at);
    rows.room.push({ id: roomId, siteId: farm.siteId, name: plan.name, position, createdAt: at });
    for (const tank of tanks) {
      const [leftCm, backCm, turned] = PLACES[tank.plan.name] ?? [0, 0];
      rows.tankPlace.push({ tankId: tank.id, roomId, leftCm, backCm, turned: turned === 'turned' });
    }
  }
}
