import type { Farm, System } from './farm.ts';
import type { Lot } from './stock.ts';
import type { Trouble } from './troubles.ts';

/** The lot that a trouble is about: one of those that can be befallen so, chosen by the trouble's own number. */
export function lotOf(system: System, { kind, pick }: Pick<Trouble, 'kind' | 'pick'>): Lot {
  const host = { 'pest let in': ['branching', 'sweeping'], 'neighbour stings': ['brain', 'branching'] }[
    kind as string
  ];
  const lots = system.lots.filter(({ group }) => host?.includes(group.name) ?? true);
  return lots[Math.floor(((pick * 7) % 1) * lots.length)] as Lot;
}

/** What a trouble does to stock, dose or bottle at the moment it begins; what it does from hour to hour is in the farm. */
export function begin(farm: Farm, one: Trouble): void {
  const system = farm.systems[one.system] as System;
  const lot = lotOf(system, one);
  switch (one.kind) {
    case 'pest let in':
      lot.ills.pest = Math.max(lot.ills.pest, 0.06);
      break;
    case 'bad cuts':
      for (const cut of badLots(system, one)) {
        cut.ills.rot = 0.35 + 0.5 * one.size;
        for (const piece of cut.pieces) piece.wound = 18;
        system.cuts.push({ at: one.from, lot: cut.id });
      }
      break;
    case 'neighbour stings':
      lot.ills.sting = 0.35 + 0.5 * one.size;
      break;
    case 'wrong move':
      moveLot(farm, system, lot, lot.rack === 0 ? 1 : 0);
      break;
    case 'large sale':
      for (const { group, pieces } of system.lots)
        if (group.builds > 1) for (const piece of pieces) piece.size *= 0.2 + 0.15 * one.size;
      break;
    case 'kit reads wrong':
      openBottle(farm, system, (one.pick < 0.5 ? -1 : 1) * (0.09 + 0.06 * one.size));
      break;
    default:
  }
}

/** Two lots of one day's cutting. */
function badLots(system: System, { pick }: Pick<Trouble, 'pick'>): Lot[] {
  const at = Math.floor(pick * (system.lots.length - 1));
  return system.lots.slice(at, at + 2);
}

/** What ending a trouble at its source does. */
export function end(farm: Farm, one: Trouble): void {
  const system = farm.systems[one.system] as System;
  const lot = lotOf(system, one);
  switch (one.kind) {
    case 'pest let in':
      for (const { ills } of system.lots) ills.pest = 0;
      break;
    case 'bad cuts':
      for (const { ills } of system.lots) ills.rot *= 0.25;
      break;
    case 'neighbour stings':
      lot.ills.sting = 0;
      break;
    case 'wrong move':
      if (!suits(system, lot)) moveLot(farm, system, lot, lot.rack === 0 ? 1 : 0);
      break;
    case 'kit reads wrong':
      openBottle(farm, system);
      break;
    default:
  }
}

/** Another bottle for alkalinity; bottles differ by 2 % unless it is a bad one. */
export function openBottle({ chance, day }: Farm, system: System, bias?: number): void {
  const n = system.bottle.n + 1;
  const own = bias ?? 0.02 * chance.normal('bottle', system.index, n);
  system.bottle = {
    n,
    bias: own,
    before: system.bottle.bias,
    lastsUntil: day + chance.between(60, 110, 'bottle lasts', system.index, n),
  };
}

/** Whether a lot stands on the rack of its kind. */
export const suits = ({ racks }: System, { rack, group }: Lot): boolean => {
  const par = middlePar(racks[rack as 0 | 1]);
  return par >= 0.7 * group.low && par <= 1.2 * group.high;
};

const middlePar = ({ cells }: System['racks'][number]) =>
  cells.reduce((sum, { par }) => sum + par, 0) / cells.length;

/** Puts a lot into a free cell of a rack, the one whose light suits it best. */
export function moveLot({ day }: Pick<Farm, 'day'>, system: System, lot: Lot, rack: number): void {
  const taken = new Set(
    system.lots
      .filter((one) => one.rack === rack && one !== lot)
      .map(({ cell }) => cell.row * 10 + cell.column),
  );
  const best = Math.sqrt(lot.group.low * lot.group.high);
  const [cell] = (system.racks[rack as 0 | 1].cells ?? [])
    .filter(({ row, column }) => !taken.has(row * 10 + column))
    .sort((a, b) => Math.abs(a.par - best) - Math.abs(b.par - best));
  if (cell === undefined) return;
  Object.assign(lot, { rack, cell, placedDay: day });
}

/** Pests multiply and go from lot to lot of their hosts, rot to the lots beside, unless they stand apart. */
export function spread(farm: Farm, system: System): void {
  const infested = system.lots.filter(({ ills, apartSince }) => ills.pest > 0 && apartSince === null);
  const load = infested.reduce((sum, { ills }) => sum + ills.pest, 0);
  for (const lot of system.lots) {
    const { ills, apartSince, group } = lot;
    if (ills.pest > 0) ills.pest = Math.min(1, ills.pest * 1.055);
    else if (
      apartSince === null &&
      infested.some((other) => other.group === group) &&
      farm.chance.happens(0.02 * Math.min(1.5, load), 'pest', lot.id, farm.day)
    )
      ills.pest = 0.03;
    const beside = system.lots.some(
      (other) =>
        other !== lot && other.ills.rot > 0.15 && other.apartSince === null && other.rack === lot.rack,
    );
    if (ills.rot > 0.01) ills.rot *= apartSince === null ? 0.985 : 0.93;
    else if (beside && apartSince === null && farm.chance.happens(0.006, 'rot', lot.id, farm.day))
      ills.rot = 0.4;
  }
}
