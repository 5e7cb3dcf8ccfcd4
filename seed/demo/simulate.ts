import type { JournalKind } from '../../src/platform/journal-kinds.ts';
import { testTheWater } from './bench.ts';
import { waterHistory } from './chemistry.ts';
import { noteConditions } from './condition.ts';
import { equipTheFarm } from './equipment.ts';
import { buildFarm } from './farm.ts';
import { feedTheFarm } from './feeding.ts';
import { stockTheCupboards } from './kits.ts';
import { lightTheFarm } from './light.ts';
import { placeTheTanks } from './rooms.ts';
import { walkTheRounds } from './rounds.ts';
import { planTheRoutines } from './routines.ts';
import { type DemoTables, noRows } from './rows.ts';
import { stockHistory } from './stock.ts';
import { type Truth, truthOf } from './truth.ts';
import { logWater } from './water-rows.ts';
import { openWorld } from './world.ts';

/** An invented farm's last half year: the rows of every table, and what truly was. */
export interface DemoFarm {
  tables: DemoTables;
  truth: Truth;
}

/**
 * Simulates the demo farm up to `now`: water by mass balance, light by lamps and surveys, a stock that is cut,
 * moved and sold, and people who test with imperfect kits. The same seed and now give the same farm.
 */
export function simulate({ seed, now }: { seed: number; now: Date }): DemoFarm {
  const world = openWorld(seed, now);
  const tables = noRows();
  const farm = buildFarm(world, tables);
  const light = lightTheFarm(world, farm, tables);
  const { lots, uptake } = stockHistory(world, farm, tables);
  const lotLights = noteConditions(world, farm, lots, light, tables);
  const kits = stockTheCupboards(world, farm, tables);
  const waters = farm.systems.map((system, index) => {
    const water = waterHistory(world, system, uptake[index] ?? [], index);
    logWater(world, farm, system, water, tables);
    tables.reading.push(...testTheWater(world, farm, system, water, kits));
    return water;
  });
  feedTheFarm(world, farm, tables);
  planTheRoutines(world, farm, tables);
  walkTheRounds(world, farm, lots, tables);
  equipTheFarm(world, farm, tables);
  placeTheTanks(world, farm, tables);
  noteGrowing(tables, seed, now, world.id(now));
  return { tables, truth: truthOf({ world, farm, waters, kits, lots, lotLights }) };
}

function noteGrowing(tables: DemoTables, seed: number, at: Date, id: string): void {
  tables.journalLine.push({
    id,
    at,
    kind: 'demo.grown' satisfies JournalKind,
    subjectType: 'site',
    subjectId: tables.site[0]?.id ?? '',
    detail: { seed, lots: tables.lot.length, readings: tables.reading.length },
  });
}
