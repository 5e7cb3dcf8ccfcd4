import type { DoseGiven, WaterHistory } from './chemistry.ts';
import type { Farm, FarmSystem } from './farm.ts';
import type { DemoTables } from './rows.ts';
import type { Solute } from './water.ts';
import type { World } from './world.ts';

/** What is poured: its name, and how much of the solute a millilitre holds (meq or mg). */
const SOLUTIONS: Partial<Record<Solute, { substance: string; perMl: number }>> = {
  alkalinity: { substance: 'Sodium carbonate solution, 1 meq/mL', perMl: 1 },
  calcium: { substance: 'Calcium chloride solution, 40 mg/mL Ca', perMl: 40 },
  magnesium: { substance: 'Magnesium chloride solution, 50 mg/mL Mg', perMl: 50 },
};

/** The log of what was put in and changed. The doser logs what it was told, which is not always what it gave. */
export function logWater(
  world: World,
  farm: Farm,
  system: FarmSystem,
  water: WaterHistory,
  rows: DemoTables,
): void {
  for (const { at, volumeL } of water.changes) {
    const accountId = farm.people.hand;
    rows.waterChange.push({ id: world.id(at), systemId: system.id, at, volumeL, accountId, createdAt: at });
  }
  for (const dose of water.doses) rows.dose.push(doseRow(world, farm, system, dose));
}

function doseRow(world: World, farm: Farm, system: FarmSystem, dose: DoseGiven): DemoTables['dose'][number] {
  const { at, solute, told, byHand } = dose;
  const solution = SOLUTIONS[solute];
  if (!solution) throw new Error(`nothing is poured for ${solute}`);
  return {
    id: world.id(at),
    systemId: system.id,
    at,
    substance: solution.substance,
    amount: Math.round((10 * told * system.plan.volumeL) / solution.perMl) / 10,
    unit: 'mL',
    quantityCode: solute,
    effect: told,
    note: byHand ? 'By hand, in the return chamber' : 'Doser',
    accountId: byHand ? farm.people.hand : null,
    createdAt: at,
  };
}
