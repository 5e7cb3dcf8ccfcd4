import { accustomedAt } from '../../src/science/light.ts';
import type { Random } from '../../src/science/statistics/random.ts';
import type { Farm } from './farm.ts';
import type { RackLight } from './light.ts';
import { BRIGHT_DAYS } from './planted.ts';
import type { DemoTables } from './rows.ts';
import type { LiveLot } from './stock-book.ts';
import { DAYS, type World } from './world.ts';

type Placement = DemoTables['placement'][number];

/** How much light a lot stands in and how much it is used to, by day since its first; umol/(m2 s) at full light. */
export interface LotLight {
  firstDay: number;
  par: number[];
  accustomed: number[];
}

/** How long excess is borne before it shows, in days of double the light: lots differ. */
const BEARS = [1.5, 5.5] as const;
/** How much longer until a third of the animal has paled. */
const PALES_FURTHER = 0.7;
const LOOKED_AT = 9.1;

/** Lets every living lot answer to its light, and notes what the morning walks saw of it. */
export function noteConditions(
  world: World,
  farm: Farm,
  lots: readonly LiveLot[],
  light: readonly RackLight[],
  rows: DemoTables,
): Map<string, LotLight> {
  const random = world.random('conditions');
  const placed = Map.groupBy(rows.placement, ({ lotId }) => lotId);
  const slots = Map.groupBy(rows.placementSlot, ({ placementId }) => placementId);
  const lotLights = new Map<string, LotLight>();
  for (const lot of lots) {
    const rack = light.find((candidate) => candidate.rack === lot.block.rack);
    if (!rack) continue;
    const parOf = ({ id }: Placement) => meanPar(rack, slots.get(id) ?? []);
    const lotLight = lightOf(world, lot, placed.get(lot.id) ?? [], rack, parOf);
    lotLights.set(lot.id, lotLight);
    pale(world, farm, lot, lotLight, random, rows);
  }
  unpack(world, farm, lots, rows);
  return lotLights;
}

function meanPar({ surveyedPar }: RackLight, slots: readonly { slotId: string }[]): number {
  return slots.reduce((sum, { slotId }) => sum + (surveyedPar.get(slotId) ?? 0), 0) / slots.length;
}

function lightOf(
  world: World,
  lot: LiveLot,
  placements: readonly Placement[],
  { percentAt, rack }: RackLight,
  parOf: (placement: Placement) => number,
): LotLight {
  const days = Array.from({ length: DAYS + 1 - lot.day }, (_, i) => lot.day + i);
  const pars = placements.map((placement) => ({ placement, par: parOf(placement) }));
  const par = days.map((day) => {
    const noon = world.at(day, 12);
    const here = pars.findLast(({ placement }) => placement.fromAt <= noon) ?? pars[0];
    return ((here?.par ?? 0) * percentAt(day)) / rack.lamp.plan.percent;
  });
  const pieces = days.map((day, i) => ({ fromDay: day, dailyLight: par[i] ?? 0 }));
  const { high = 10 } = lot.kind.care.adaptation_days ?? {};
  return { firstDay: lot.day, par, accustomed: accustomedAt(pieces, high, par[0] ?? 0, days) };
}

/** How far the light stands above what the lot bears today, as a part of it; 0 when it does not. */
export function excess(lot: LiveLot, { firstDay, par, accustomed }: LotLight, day: number): number {
  const { step_ratio, par_ceiling } = lot.kind.care;
  const now = par[day - firstDay] ?? 0;
  const borne = Math.min(
    (accustomed[day - firstDay] ?? now) * (step_ratio?.high ?? Number.POSITIVE_INFINITY),
    par_ceiling?.high ?? Number.POSITIVE_INFINITY,
  );
  return Math.max(0, now / borne - 1);
}

function pale(
  world: World,
  farm: Farm,
  lot: LiveLot,
  light: LotLight,
  random: Random,
  rows: DemoTables,
): void {
  const bears = BEARS[0] + (BEARS[1] - BEARS[0]) * random.uniform();
  let borne = 0;
  let grade = 0;
  for (let day = lot.day; day <= DAYS; day++) {
    const next = borne > bears + PALES_FURTHER ? 2 : borne > bears ? 1 : 0;
    const at = world.at(day, LOOKED_AT + random.below(20) / 60);
    if (next > grade && at <= world.now) {
      grade = next;
      const note = grade === 1 ? 'Lighter along the ridges' : 'Lighter over about a third, upper side';
      noteState(world, farm, lot, at, { state: 'paling', grade, note }, rows);
    }
    borne += excess(lot, light, day);
  }
}

/** A lot that came by road keeps its polyps shut for a few days. */
function unpack(world: World, farm: Farm, lots: readonly LiveLot[], rows: DemoTables): void {
  const arrived = new Set(
    rows.lot.filter(({ origin }) => origin?.startsWith('Received')).map(({ id }) => id),
  );
  for (const lot of lots) {
    if (!arrived.has(lot.id) || lot.pieces === 0 || lot.day > DAYS - BRIGHT_DAYS - 30) continue;
    const shut = { state: 'polyps_shut', grade: 1, note: 'After the journey' } as const;
    noteState(world, farm, lot, world.at(lot.day + 1, LOOKED_AT), shut, rows);
    noteState(world, farm, lot, world.at(lot.day + 6, LOOKED_AT), { state: 'well', note: 'Open' }, rows);
  }
}

type Seen = Pick<DemoTables['condition'][number], 'state' | 'grade' | 'note'>;

function noteState(world: World, farm: Farm, lot: LiveLot, at: Date, seen: Seen, rows: DemoTables): void {
  const accountId = farm.people.hand;
  rows.condition.push({ id: world.id(at), lotId: lot.id, at, ...seen, accountId, createdAt: at });
}
