import { capitalized } from '../../src/platform/words/capitals.ts';
import { dayMs, daysAfter } from '../../src/science/numeric/time.ts';
import type { Random } from '../../src/science/statistics/random.ts';
import { convert } from '../../src/science/units/convert.ts';
import type { MethodSeed } from '../care.schema.ts';
import { methods } from '../library.ts';
import type { Farm } from './farm.ts';
import { KIT_DAYS, KIT_GAIN } from './planted.ts';
import type { DemoTables } from './rows.ts';
import { DAYS, type World } from './world.ts';

/** One opened bottle set: the method, from which day to which, and what part of the truth it reads. */
export interface DemoKit {
  id: string;
  quantityCode: string;
  method: MethodSeed;
  /** The system it is kept for; null for sets that go round the farm. */
  systemId: string | null;
  from: number;
  to: number;
  gain: number;
}

/** The sets of one cupboard: since when the present one is open, and how different sets read. */
interface Cupboard {
  quantityCode: string;
  methodName: string;
  system: { id: string; name: string } | null;
  openDays: number;
  spread: number;
  checkEvery: number;
  biased: boolean;
}

/** The standards that sets are checked against, canonical units. */
const STANDARDS: Readonly<Record<string, number>> = {
  alkalinity: 3,
  calcium: 420,
  magnesium: 1300,
  nitrate: 10,
  phosphate: 0.1,
};
const ALKALINITY_OPEN_DAYS = [50, 76, KIT_DAYS, 64];
/** Whoever checks a set takes more care than at a morning's tests. */
const CARE = 0.5;

/** Opens sets one after another, 60 to 120 days each, and checks each against its standard in duplicate. */
export function stockTheCupboards(world: World, farm: Farm, rows: DemoTables): DemoKit[] {
  const random = world.random('kits');
  return cupboards(farm).flatMap((cupboard) => {
    const kits = openSets(world, cupboard, random);
    kits.forEach((kit, index) => {
      noteKit(world, farm, rows, kit, `${label(cupboard)}, kit ${index + 1}`);
      check(world, farm, rows, kit, cupboard, random);
    });
    return kits;
  });
}

function cupboards(farm: Farm): Cupboard[] {
  const own = farm.systems.map(({ id, plan }, index) => ({
    quantityCode: 'alkalinity',
    methodName: plan.alkalinityMethod,
    system: { id, name: plan.name },
    openDays: ALKALINITY_OPEN_DAYS[index] ?? 60,
    spread: 0.002,
    checkEvery: 25,
    biased: plan.planted === 'kit-biased',
  }));
  const shared = (
    quantityCode: string,
    methodName: string,
    openDays: number,
    spread: number,
    every: number,
  ) => ({
    quantityCode,
    methodName,
    system: null,
    openDays,
    spread,
    checkEvery: every,
    biased: false,
  });
  return [
    ...own,
    shared('calcium', 'drop titration', 58, 0.005, 26),
    shared('magnesium', 'drop titration', 83, 0.005, 26),
    shared('nitrate', 'photometer', 90, 0.02, 13),
    shared('phosphate', 'photometer', 44, 0.03, 26),
  ];
}

function openSets(world: World, cupboard: Cupboard, random: Random): DemoKit[] {
  const { quantityCode, methodName, system, spread, biased } = cupboard;
  const method = methods().find((m) => m.quantityCode === quantityCode && m.name === methodName);
  if (!method) throw new Error(`the library has no ${methodName} of ${quantityCode}`);
  const kits: DemoKit[] = [];
  let [from, to] = [DAYS - cupboard.openDays, Number.POSITIVE_INFINITY];
  while (to > 0) {
    const present = to === Number.POSITIVE_INFINITY;
    kits.unshift({
      id: world.id(onDay(world, from)),
      quantityCode,
      method,
      systemId: system?.id ?? null,
      from,
      to,
      gain: biased && present ? KIT_GAIN : 1 + spread * Math.max(-1.5, Math.min(1.5, random.normal())),
    });
    to = from;
    from -= 62 + random.below(50);
  }
  return kits;
}

function noteKit(world: World, farm: Farm, rows: DemoTables, kit: DemoKit, name: string): void {
  const openedAt = onDay(world, kit.from);
  const lot = String(1000 + (openedAt.getTime() % 8999)).slice(0, 4);
  rows.kit.push({
    id: kit.id,
    quantityCode: kit.quantityCode,
    methodName: kit.method.name,
    label: name,
    lotNumber: `${openedAt.toISOString().slice(2, 4)}-${lot}`,
    openedAt,
    expiresOn: daysAfter(openedAt, 365).toISOString().slice(0, 10),
    retiredAt: Number.isFinite(kit.to) ? onDay(world, kit.to) : null,
    accountId: farm.people.hand,
  });
}

function check(
  world: World,
  farm: Farm,
  rows: DemoTables,
  kit: DemoKit,
  { checkEvery, biased }: Cupboard,
  random: Random,
): void {
  const standardValue = STANDARDS[kit.quantityCode] ?? 0;
  const first = biased && kit.gain === KIT_GAIN ? 10 : 1;
  const every = biased ? 13 : checkEvery;
  for (let day = kit.from + first; day < Math.min(kit.to, DAYS); day += every) {
    if (day < 0) continue;
    for (const minute of [0, 6]) {
      const at = world.at(day, 15 + minute / 60);
      const { method } = kit;
      const read = standardValue * kit.gain + CARE * noise(method, standardValue) * random.normal();
      const value = toStep(method, read);
      const accountId = farm.people.manager;
      rows.checkReading.push({
        id: world.id(at),
        kitId: kit.id,
        at,
        standardValue,
        value,
        accountId,
        createdAt: at,
      });
    }
  }
}

/** Standard uncertainty of a method at a value, canonical unit. */
export function uncertainty(method: MethodSeed, value: number): number {
  return Math.hypot(method.absolute, method.relative * value);
}

/** What is left of it for chance when rounding to the step is taken out. */
export function noise(method: MethodSeed, value: number): number {
  const u = uncertainty(method, value);
  return Math.sqrt(Math.max(u ** 2 - (method.step ?? 0) ** 2 / 12, (u / 2) ** 2));
}

/** A reading as the method's scale shows it; alkalinity sets count in dKH. */
export function toStep(method: MethodSeed, value: number): number {
  if (method.step === undefined) return value;
  if (method.quantityCode !== 'alkalinity') return Math.round(value / method.step) * method.step;
  const step = Math.round(convert('alkalinity', method.step, 'meq/L', 'dKH') * 100) / 100;
  const shown = Math.round(convert('alkalinity', value, 'meq/L', 'dKH') / step) * step;
  return convert('alkalinity', shown, 'dKH', 'meq/L');
}

function label({ quantityCode, system }: Cupboard): string {
  const name = capitalized(quantityCode);
  return system ? `${name}, ${system.name}` : name;
}

function onDay(world: World, day: number): Date {
  return day >= 0 ? world.at(day, 7.75) : new Date(world.at(0, 7.75).getTime() + day * dayMs);
}
