import { minuteMs } from '../../src/science/numeric/time.ts';
import type { Random } from '../../src/science/statistics/random.ts';
import { convert } from '../../src/science/units/convert.ts';
import type { MethodSeed } from '../care.schema.ts';
import { methods, quantities } from '../library.ts';
import type { TrueWater, WaterHistory } from './chemistry.ts';
import type { Farm, FarmSystem } from './farm.ts';
import { type DemoKit, noise, toStep, uncertainty } from './kits.ts';
import { dkh } from './planted.ts';
import type { DemoTables } from './rows.ts';
import { DAYS, type World } from './world.ts';

type Reading = DemoTables['reading'][number];
type Measured = Exclude<keyof TrueWater, 'day' | 'at'>;

/** One habit of testing: on which weekdays, minutes into the morning, how often a test slips and by how much. */
interface Habit {
  code: Measured;
  weekdays: readonly number[];
  minute: number;
  slip: number;
  slipped(value: number, random: Random): number;
}

const DAILY = [1, 2, 3, 4, 5, 6, 7];
const MISSED = 0.04;
const either = (random: Random) => (random.uniform() < 0.5 ? -1 : 1);
const never = (value: number) => value;
/** When which test is made. */
export const HABITS: readonly Habit[] = [
  {
    code: 'alkalinity',
    weekdays: DAILY,
    minute: 0,
    slip: 0.01,
    slipped: (value, random) => value + either(random) * dkh(0.6 + 0.9 * random.uniform()),
  },
  { code: 'salinity', weekdays: DAILY, minute: 4, slip: 0, slipped: never },
  { code: 'temperature', weekdays: DAILY, minute: 5, slip: 0, slipped: never },
  { code: 'ph', weekdays: [1, 3, 5, 7], minute: 6, slip: 0, slipped: never },
  {
    code: 'nitrate',
    weekdays: [1, 4],
    minute: 9,
    slip: 0.02,
    slipped: (value, random) => value * (random.uniform() < 0.5 ? 0.55 : 1.7),
  },
  {
    code: 'calcium',
    weekdays: [3],
    minute: 13,
    slip: 0.01,
    slipped: (value, random) => value + 60 * either(random),
  },
  {
    code: 'magnesium',
    weekdays: [3],
    minute: 17,
    slip: 0.01,
    slipped: (value, random) => value + 130 * either(random),
  },
  { code: 'phosphate', weekdays: [6], minute: 11, slip: 0, slipped: never },
];
/** A reading of what can slip that stands this far from the usual is repeated at once: in the quantity's unit, or in standard uncertainties. */
const SURPRISE_ALKALINITY = dkh(0.5);
const SURPRISE_SIGMAS = 3.5;
const AGREE_SIGMAS = 2.8;
const USUAL_OF = 7;

/** Tests the water of one system every morning, with the errors of its kits and of people. */
export function testTheWater(
  world: World,
  farm: Farm,
  system: FarmSystem,
  water: WaterHistory,
  kits: readonly DemoKit[],
): Reading[] {
  const random = world.random(`tests of ${system.plan.name}`);
  return HABITS.flatMap((habit) => {
    const bench = new Bench(world, farm, system, habit, kits, random);
    for (const morning of water.mornings) bench.test(morning);
    return bench.readings;
  }).filter(({ at }) => at <= world.now);
}

class Bench {
  readonly readings: Reading[] = [];
  readonly #world: World;
  readonly #farm: Farm;
  readonly #system: FarmSystem;
  readonly #habit: Habit;
  readonly #kits: readonly DemoKit[];
  readonly #random: Random;
  readonly #usual: number[] = [];

  constructor(
    world: World,
    farm: Farm,
    system: FarmSystem,
    habit: Habit,
    kits: readonly DemoKit[],
    random: Random,
  ) {
    this.#world = world;
    this.#farm = farm;
    this.#system = system;
    this.#habit = habit;
    this.#kits = kits.filter(
      ({ quantityCode, systemId }) => quantityCode === habit.code && [null, system.id].includes(systemId),
    );
    this.#random = random;
  }

  test(morning: TrueWater): void {
    const { weekdays, code, minute, slip, slipped } = this.#habit;
    const missed = this.#random.uniform() < MISSED && morning.day < DAYS - 12;
    if (!weekdays.includes(this.#world.weekday(morning.day)) || missed) return;
    const truth = morning[code];
    const at = new Date(morning.at.getTime() + minute * minuteMs);
    const slips = this.#random.uniform() < slip;
    const reading = this.#read(morning.day, at, slips ? slipped(truth, this.#random) : truth);
    this.readings.push(reading);
    if (this.#surprises(reading)) this.#repeat(morning.day, reading, truth);
    else this.#usual.push(reading.value);
  }

  #read(day: number, at: Date, truth: number): Reading {
    const kit = this.#kits.find(({ from, to }) => from <= day && day < to);
    const method = kit?.method ?? usualMethod(this.#habit.code);
    const value = toStep(method, truth * (kit?.gain ?? 1) + noise(method, truth) * this.#random.normal());
    return {
      id: this.#world.id(at),
      systemId: this.#system.id,
      quantityCode: this.#habit.code,
      methodName: method.name,
      kitId: kit?.id ?? null,
      at,
      accountId: this.#farm.people.hand,
      createdAt: at,
      trust: 'plain',
      trustReason: '',
      note: '',
      ...this.#written(method, Math.max(0, value)),
    };
  }

  /** The reading as a person writes it down; the stored value is what was written. */
  #written(method: MethodSeed, value: number) {
    const { displayUnit, decimals, canonicalUnit } = shown(this.#habit.code);
    const below = method.detectionLimit !== undefined && value < method.detectionLimit;
    const kept = below ? (method.detectionLimit ?? 0) : value;
    const gravity = this.#habit.code === 'salinity' && this.#system.plan.name === 'Greenhouse loop';
    const enteredUnit = gravity ? 'SG 25/25' : displayUnit;
    const digits = gravity ? 4 : decimals;
    const text = convert(this.#habit.code, kept, canonicalUnit, enteredUnit).toFixed(digits);
    const stored = convert(this.#habit.code, Number(text), enteredUnit, canonicalUnit);
    return {
      value: stored,
      belowDetection: below,
      uncertainty: uncertainty(method, stored),
      enteredText: below ? `<${text}` : text,
      enteredUnit,
    };
  }

  #surprises({ value, uncertainty: u }: Reading): boolean {
    if (this.#habit.slip === 0 || this.#usual.length < USUAL_OF) return false;
    const last = this.#usual.slice(-USUAL_OF).sort((a, b) => a - b);
    const middle = last[(USUAL_OF - 1) / 2] ?? value;
    const limit = this.#habit.code === 'alkalinity' ? SURPRISE_ALKALINITY : SURPRISE_SIGMAS * u;
    return Math.abs(value - middle) > limit;
  }

  #repeat(day: number, first: Reading, truth: number): void {
    const repeat = this.#read(day, new Date(first.at.getTime() + 8 * minuteMs), truth);
    repeat.note = 'Repeat of a surprising reading';
    const agrees = Math.abs(repeat.value - first.value) <= AGREE_SIGMAS * first.uncertainty * Math.SQRT2;
    first.settledById = repeat.id;
    first.trust = agrees ? 'confirmed' : 'refuted';
    first.trustReason = agrees
      ? 'Far from the readings before; a repeat with the same kit agreed'
      : 'Far from the readings before; a repeat with the same kit did not agree';
    if (agrees) {
      repeat.trust = 'confirmed';
      repeat.trustReason = 'Agrees with the reading it repeats';
    }
    this.readings.push(repeat);
    this.#usual.push(repeat.value);
  }
}

const LIBRARY = { methods: methods(), quantities: quantities() };

function usualMethod(code: string): MethodSeed {
  const method = LIBRARY.methods.find(({ quantityCode, isDefault }) => quantityCode === code && isDefault);
  if (!method) throw new Error(`the library has no usual method of ${code}`);
  return method;
}

/** How a quantity is written; a finely read scale is written to 0.05 dKH. */
function shown(code: string) {
  const quantity = LIBRARY.quantities.find((candidate) => candidate.code === code);
  if (!quantity) throw new Error(`the library has no quantity ${code}`);
  return code === 'alkalinity' ? { ...quantity, decimals: 2 } : quantity;
}
