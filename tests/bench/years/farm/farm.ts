import type { Chance } from '../chance.ts';
import { begin, end, openBottle, spread } from './befalls.ts';
import { buildsOf, groups, isUnsaleable, type Lot, liveDay, newPiece, type WaterDay } from './stock.ts';
import { foundAt, type Thing, type Trouble, type TroubleKind } from './troubles.ts';
import { type Drive, dkh, mix, newWater, passHour, type Water } from './water.ts';

/** A rack under lamps of its own: light of each cell at a setting of 70 %, umol/(m2 s). */
export interface Rack {
  id: string;
  name: string;
  cells: { row: number; column: number; par: number }[];
  /** As the lamps are set, per cent. */
  percent: number;
}

/** One system as it truly is. */
export interface System {
  index: number;
  id: string;
  name: string;
  fullL: number;
  water: Water;
  racks: readonly [Rack, Rack];
  lots: Lot[];
  /** What the doser is set to, meq/L a day. */
  doseSet: number;
  /** Doses are held, whatever the doser is set to. */
  doseHeld: boolean;
  /** Use a day for one unit of building, meq/L. */
  perUnit: number;
  /** Nitrate and phosphate made a day by usual feeding, mg/L. */
  nitrateMade: number;
  phosphateMade: number;
  /** Food against the usual, and how much wet skimming takes out. */
  food: number;
  skimming: number;
  /** Part of the water that is changed once a week; null: as usual. */
  changePart: number | null;
  setPoint: number;
  airedUntil: number;
  /** The alkalinity bottle in use, with its true relative bias and that of the one before. */
  bottle: { n: number; bias: number; before: number; lastsUntil: number };
  /** The troubles that are on, kept as they begin and end. */
  on: Trouble[];
  /** What was cut and not written down yet. */
  cuts: { at: number; lot: string }[];
  /** What all lots build, since the day began. */
  built: number;
  counts: Counts;
  blamed: Map<string, Counts>;
  today: WaterDay[];
}

export interface Counts {
  lost: number;
  paled: number;
  /** Piece-days on which nobody would have bought it. */
  unsaleable: number;
}

/** Where the farm stands: days since the run began, and what is wrong. */
export interface Farm {
  chance: Chance;
  day: number;
  hour: number;
  systems: System[];
  troubles: readonly Trouble[];
  /** How many of them have begun. */
  begun: number;
  /** From this day on losses are counted. */
  countsFrom: number;
  said: (words: string) => void;
}

/** Pieces in a lot, lots on a rack, cells of a rack. */
export const piecesALot = 6;
const lotsARack = 10;
const [rows, columns] = [4, 5];

/** A farm on its first day; the same seed gives the same one. */
export function newFarm(
  chance: Chance,
  systems: number,
  troubles: readonly Trouble[],
  countsFrom: number,
): Farm {
  return {
    ...{ chance, day: 0, hour: 0, troubles, begun: 0, countsFrom },
    systems: Array.from({ length: systems }, (_, index) => newSystem(chance, index)),
    said: () => {},
  };
}

function newSystem(chance: Chance, index: number): System {
  const draw = (low: number, high: number, what: string) => chance.between(low, high, what, index);
  const racks = [newRack(chance, index, 0), newRack(chance, index, 1)] as const;
  const lots = racks.flatMap((rack, r) =>
    Array.from({ length: lotsARack }, (_, i) => newLot(chance, { index, rack, r, i })),
  );
  const built = lots.reduce((sum, lot) => sum + buildsOf(lot), 0);
  const use = draw(0.35, 0.9, 'use') * dkh;
  return {
    ...{ index, id: idOf(1, index), name: `Water ${index + 1}`, racks, lots },
    fullL: Math.round(draw(700, 1500, 'litres')),
    water: {
      ...newWater,
      ...{ litres: 1, alkalinity: 8.2 * dkh, calcium: 430, nitrate: draw(5, 9, 'nitrate') },
      ...{ phosphate: 0.06, temperature: 25.3, oxygen: 6.7, ph: 8.05 },
    },
    ...{ doseSet: use, doseHeld: false, perUnit: use / built },
    ...{ nitrateMade: draw(0.08, 0.14, 'made'), phosphateMade: draw(0.0018, 0.003, 'made p') },
    ...{
      food: 1,
      skimming: 0,
      changePart: null,
      setPoint: 25.3,
      airedUntil: -1,
      bottle: { n: 0, bias: 0, before: 0, lastsUntil: 70 + 20 * index },
    },
    ...{ counts: noCounts(), on: [], cuts: [], built },
    ...{ blamed: new Map(), today: [] },
  };
}

export const noCounts = (): Counts => ({ lost: 0, paled: 0, unsaleable: 0 });

/** Keys of the farm's things, in the form that the service has them. */
export const idOf = (kind: number, n: number): string =>
  `00000000-0000-7000-8000-${kind.toString(16).padStart(4, '0')}${n.toString(16).padStart(8, '0')}`;

function newRack(chance: Chance, index: number, r: 0 | 1): Rack {
  const middle =
    r === 0 ? chance.between(85, 115, 'rack', index, r) : chance.between(220, 290, 'rack', index, r);
  const cells = Array.from({ length: rows * columns }, (_, i) => {
    const [row, column] = [1 + Math.floor(i / columns), 1 + (i % columns)];
    const fromMiddle = Math.hypot((row - 2.5) / 2.5, (column - 3) / 3);
    return { row, column, par: middle * (1.1 - 0.25 * fromMiddle) };
  });
  return { id: idOf(2, 2 * index + r), name: `Rack ${index + 1}${r === 0 ? 'A' : 'B'}`, cells, percent: 70 };
}

interface Where {
  index: number;
  rack: Rack;
  r: number;
  i: number;
}

function newLot(chance: Chance, { index, rack, r, i }: Where): Lot {
  const named =
    r === 0 ? [groups[0], groups[2], groups[3], groups[0]] : [groups[1], groups[1], groups[3], groups[1]];
  const group = named[i % named.length] ?? groups[0];
  const cell = rack.cells[2 * i] as Rack['cells'][number];
  const n = index * 100 + r * 50 + i;
  return {
    ...{ id: idOf(3, n), name: `${index + 1}${r === 0 ? 'A' : 'B'}-${i + 1}`, rack: r },
    ...{ group: group as Lot['group'], cell, usedTo: cell.par, placedDay: 0, apartSince: null, harm: {} },
    ills: { pest: 0, rot: 0, sting: 0 },
    pieces: Array.from({ length: piecesALot }, (_, piece) =>
      newPiece(chance, { cut: false, day: 0 }, n, piece, 'first'),
    ),
  };
}

/** Of one system, the troubles of these kinds that are on. */
export const troublesOn = (farm: Farm, system: number, kinds?: readonly TroubleKind[]): Trouble[] => {
  const on = farm.systems[system]?.on ?? [];
  return on.length === 0 || kinds === undefined ? on : on.filter(({ kind }) => kinds.includes(kind));
};

/** Days of the run, the hour as a part. */
export const timeOf = ({ day, hour }: Pick<Farm, 'day' | 'hour'>): number => day + hour / 24;

/** Lets one hour pass; at midnight the stock lives its day. */
export function passFarmHour(farm: Farm): void {
  beginAndEnd(farm, timeOf(farm));
  for (const system of farm.systems) {
    if (system.water.litres === 1) system.water.litres = system.fullL;
    passHour(system.water, driveOf(farm, system));
    keepHour(system);
  }
  farm.hour += 1;
  if (farm.hour < 24) return;
  for (const system of farm.systems) passDay(farm, system);
  farm.hour = 0;
  farm.day += 1;
}

function beginAndEnd(farm: Farm, now: number): void {
  for (; (farm.troubles[farm.begun]?.from ?? Number.POSITIVE_INFINITY) <= now; farm.begun += 1) {
    const one = farm.troubles[farm.begun] as Trouble;
    const system = systemOf(farm, one);
    system.on = [...system.on, one];
    farm.said(`${system.name}: ${one.kind} begins`);
    begin(farm, one);
  }
  for (const { on } of farm.systems)
    for (const one of on)
      if (one.byChance <= now) mend(farm, one, one.kind === 'power cut' ? 'is over' : 'is stumbled over');
}

export const systemOf = (farm: Farm, { system }: Pick<Trouble, 'system'>): System =>
  farm.systems[system] as System;

/** Ends a trouble at its source. What it did to water and stock is not undone by that. */
export function mend(farm: Farm, one: Trouble, how: string): void {
  if (one.endedDay !== null) return;
  one.endedDay = timeOf(farm);
  const system = systemOf(farm, one);
  system.on = system.on.filter((other) => other !== one);
  end(farm, one);
  farm.said(
    `${systemOf(farm, one).name}: ${one.kind} ${how}, ${(one.endedDay - one.from).toFixed(1)} days after it began`,
  );
}

/** What somebody who checks this thing finds and mends: nine of ten (own assumption). The same chance for every policy. */
export function check(farm: Farm, system: System, thing: Thing, sure = 0.9): Trouble[] {
  const found = troublesOn(farm, system.index, foundAt[thing]).filter((one) =>
    farm.chance.happens(sure, 'found', one.id, farm.day),
  );
  for (const one of found) mend(farm, one, 'is found and mended');
  return found;
}

/** True use a day, meq/L: what the stock lays down, less in water that is poor, cold or hot. */
export function useOf(system: System): number {
  const { alkalinity, temperature } = system.water;
  const rich = Math.min(1.15, (alkalinity / (8.2 * dkh)) ** 0.7);
  const warm = Math.max(
    0.2,
    1 - 0.12 * Math.max(0, temperature - 28.5) - 0.08 * Math.max(0, 23 - temperature),
  );
  return system.perUnit * rich * warm * system.built;
}

/** Part of what it is set to that the doser gives. */
export function doserGives(farm: Farm, system: System): number {
  let part = system.doseHeld ? 0 : 1;
  for (const { kind, size, pick, from } of troublesOn(farm, system.index, foundAt.doser)) {
    const days = timeOf(farm) - from;
    if (kind === 'doser stuck on') part = Math.max(part, 1) * (2.5 + 3 * size);
    if (kind === 'doser blocked') part *= 0.15 * size;
    if (kind === 'doser drifting') part *= Math.max(0.35, 1 - (0.012 + 0.02 * size) * days);
    if (kind === 'refilled wrong') part *= pick < 0.7 ? 0.35 + 0.3 * size : 1.6 + 0.8 * size;
  }
  return part;
}

function driveOf(farm: Farm, system: System): Drive {
  const on = new Set(troublesOn(farm, system.index).map(({ kind }) => kind));
  const stuck = troublesOn(farm, system.index, ['thermostat stuck'])[0];
  const powered = !on.has('power cut');
  const food = troublesOn(farm, system.index, ['food changed']).reduce(
    (of, { size }) => of * (2.2 + 1.8 * size),
    1,
  );
  const fed = system.food * food * (1 - system.skimming);
  const warmer =
    stuck === undefined ? 0 : Math.min(1, (timeOf(farm) - stuck.from) / 3) * (3 + 2.5 * stuck.size);
  return {
    ...{ fullL: system.fullL, hour: farm.hour },
    dosed: powered ? system.doseSet * doserGives(farm, system) : 0,
    used: useOf(system),
    ...{ nitrateMade: system.nitrateMade * fed, phosphateMade: system.phosphateMade * fed },
    heater: !powered || on.has('heater off') ? 'off' : on.has('heater on') ? 'on' : 'auto',
    setPoint: system.setPoint + warmer,
    roomDegC: roomDegC(farm),
    moving: powered && !on.has('pump left off'),
    aired: timeOf(farm) < system.airedUntil,
    topUp: on.has('top-up stuck on') ? 'on' : on.has('top-up stuck off') || !powered ? 'off' : 'auto',
    co2: 520 + 160 * Math.cos((2 * Math.PI * farm.day) / 365),
    breath: 0.3,
  };
}

/** Day 0 is in the depth of winter; a room between 17 and 26 degC. */
const roomDegC = ({ day, hour }: Farm): number =>
  21.5 - 3.5 * Math.cos((2 * Math.PI * day) / 365) + 1.2 * Math.sin((2 * Math.PI * (hour - 9)) / 24);

/** Light at a lot's place: cell, setting, and what befell the lamps. */
export function parOf(
  farm: Farm,
  system: System,
  lot: Pick<Lot, 'rack' | 'cell' | 'apartSince' | 'group'>,
): number {
  if (lot.apartSince !== null) return 0.8 * lot.group.low + 0.2 * lot.group.high;
  const rack = system.racks[lot.rack] as Rack;
  const cell = rack.cells.find(({ row, column }) => row === lot.cell.row && column === lot.cell.column);
  return (cell?.par ?? 100) * (rack.percent / 70) * lampsGive(farm, system, lot.rack);
}

/** What the lamps of a rack give against what they should at their setting. */
export function lampsGive(farm: Farm, system: System, rack: number): number {
  let part = troublesOn(farm, system.index, ['power cut']).length > 0 ? 0 : 1;
  for (const { kind, size, pick, from } of troublesOn(farm, system.index, foundAt.lamps)) {
    if (Math.floor(2 * pick) !== rack) continue;
    if (kind === 'lamp turned up') part *= 1.4 + 0.8 * size;
    if (kind === 'lamp ageing') part *= Math.max(0.5, 1 - 0.003 * (1 + size) * (timeOf(farm) - from));
    if (kind === 'lamp fallen') part *= 0.05 + 0.3 * size;
  }
  return part;
}

function keepHour(system: System): void {
  const { alkalinity, salinity, temperature, nitrate, phosphate, oxygen } = system.water;
  system.today.push({
    ...{ alkalinity, moved: 0, salinity, degC: temperature, nitrate, phosphate },
    hotHours: Math.max(0, temperature - 31),
    coldHours: Math.max(0, 19 - temperature),
    airlessHours: oxygen < 3.5 ? 1 : 0,
    deadlyHours: oxygen < 2 ? 1 : 0,
  });
}

function passDay(farm: Farm, system: System): void {
  const hours = system.today;
  const mean = (of: (hour: WaterDay) => number) =>
    hours.reduce((sum, hour) => sum + of(hour), 0) / hours.length;
  const sum = (of: (hour: WaterDay) => number) => mean(of) * hours.length;
  const day: WaterDay = {
    alkalinity: mean((hour) => hour.alkalinity),
    moved: (hours.at(-1)?.alkalinity ?? 0) - (hours[0]?.alkalinity ?? 0),
    salinity: mean((hour) => hour.salinity),
    degC: mean((hour) => hour.degC),
    hotHours: sum((hour) => hour.hotHours),
    coldHours: sum((hour) => hour.coldHours),
    nitrate: mean((hour) => hour.nitrate),
    phosphate: mean((hour) => hour.phosphate),
    airlessHours: sum((hour) => hour.airlessHours),
    deadlyHours: sum((hour) => hour.deadlyHours),
  };
  system.today = [];
  system.built = system.lots.reduce((sum, lot) => sum + buildsOf(lot), 0);
  for (const lot of system.lots) liveAndCount(farm, system, lot, day);
  spread(farm, system);
  sell(farm, system);
  if (farm.day < system.bottle.lastsUntil) return;
  const [bad] = troublesOn(farm, system.index, ['kit reads wrong']);
  if (bad === undefined) openBottle(farm, system);
  else mend(farm, bad, 'is used up');
}

function liveAndCount(farm: Farm, system: System, lot: Lot, water: WaterDay): void {
  const { died, paled } = liveDay(lot, parOf(farm, system, lot), water, farm.day);
  if (farm.day < farm.countsFrom) {
    for (const piece of lot.pieces) piece.paled = false;
    return;
  }
  const unsaleable = lot.pieces.filter(isUnsaleable).length;
  system.counts.lost += died;
  system.counts.paled += paled;
  system.counts.unsaleable += unsaleable;
  if (died + paled + unsaleable === 0) return;
  const cause = blameOf(farm, system, lot);
  const counts = system.blamed.get(cause) ?? noCounts();
  counts.lost += died;
  counts.paled += paled;
  counts.unsaleable += unsaleable;
  system.blamed.set(cause, counts);
  if (died > 0) farm.said(`${system.name}: ${died} of lot ${lot.name} die (${cause})`);
}

/** Which troubles make themselves felt by what. */
const felt: Readonly<Record<string, readonly TroubleKind[]>> = {
  'low alkalinity': [
    'doser blocked',
    'doser drifting',
    'refilled wrong',
    'kit reads wrong',
    'top-up stuck on',
    'doser stuck on',
  ],
  'high alkalinity': ['doser stuck on', 'refilled wrong', 'large sale', 'kit reads wrong'],
  heat: ['heater on', 'thermostat stuck'],
  cold: ['heater off', 'power cut'],
  salinity: ['top-up stuck on', 'top-up stuck off'],
  nutrients: ['food changed', 'changes skipped'],
  air: ['pump left off', 'power cut'],
  bright: ['lamp turned up', 'wrong move', 'lamp fallen', 'lamp ageing'],
  dark: ['lamp fallen', 'lamp ageing', 'wrong move'],
  pest: ['pest let in'],
  rot: ['bad cuts'],
  sting: ['neighbour stings'],
};

/** The trouble behind what a lot suffers: the latest of those that are felt so, of the last 90 days. */
function blameOf(farm: Farm, system: System, { harm }: Lot): string {
  const [worst] = Object.entries(harm).sort(([, a], [, b]) => b - a);
  if (worst === undefined || worst[1] < 0.3) return 'no trouble';
  const kinds = felt[worst[0]] ?? [];
  const behind = farm.troubles.findLast(
    ({ system: of, kind, from, endedDay }) =>
      of === system.index &&
      kinds.includes(kind) &&
      from <= timeOf(farm) &&
      (endedDay ?? farm.day) > farm.day - 90,
  );
  return behind?.kind ?? `${worst[0]}, by itself`;
}

/** Of what can be sold one piece in seventy a week goes; a fresh cut takes its place, unless its lot is ill. */
function sell(farm: Farm, system: System): void {
  if (farm.day % 7 !== 5) return;
  for (const lot of system.lots) {
    if (lot.ills.pest + lot.ills.rot + lot.ills.sting > 0 || lot.apartSince !== null) continue;
    for (const [i, piece] of lot.pieces.entries()) {
      if (isUnsaleable(piece) || !farm.chance.happens(1 / 70, 'sold', lot.id, i, farm.day)) continue;
      lot.pieces[i] = newPiece(farm.chance, { cut: true, day: farm.day }, lot.id, i, farm.day);
      system.cuts.push({ at: timeOf(farm), lot: lot.id });
    }
  }
}

/** Puts new water in place of a part of the system's. */
export function changeWater(system: System, part: number): void {
  mix(system.water, part);
}
