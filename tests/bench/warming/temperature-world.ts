import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';

/** A heater that sticks on, from a day on, by so many degrees an hour. */
export interface Stuck {
  day: number;
  perHour: number;
}

/** Water of one system, its room and what befalls both; every ten minutes. */
export interface TemperatureWorld {
  days: number;
  water: Float64Array;
  room: Float64Array;
  /** Whether a heat wave stands over the house. */
  hot: Uint8Array;
  /** Water with and without its lamps: they shine from 9 to 21. */
  lampsOn(index: number): boolean;
}

export const perDay = 144;
const hoursStep = 24 / perDay;
const yearDays = 365;

/** How a house and its system are made; own assumptions after common practice, rougher than what the rule was made on. */
interface House {
  tau: number;
  byPumps: number;
  byLamps: number;
  cooled: boolean;
  warmest: number;
  /** SD of the weather in the room. */
  weather: number;
}

const between = (random: Random, low: number, high: number) => low + (high - low) * random.uniform();

/**
 * Heat goes to the room with a time constant of 18 to 40 hours; pumps and lamps warm, a heater holds 25 degC within 0.15, a cooler in
 * half of the houses 26.8. The room has seasons, days, weather that lasts two days, more or less of it by the house, one or two heat waves of 5 to 8 degrees a
 * summer. Three power cuts a year of 2 to 10 hours; a tenth of the water changed each week, up to several degrees cooler or warmer;
 * on one day in twenty lamps shine four hours longer, and the thermostat is turned by half a degree once a year.
 */
export function temperatureWorld(days: number, seed: number, stuck: Stuck | null = null): TemperatureWorld {
  const random = seededRandom(seed);
  const house: House = {
    tau: between(random, 18, 40),
    byPumps: between(random, 1.5, 3),
    byLamps: between(random, 1.5, 4),
    cooled: random.uniform() < 0.5,
    warmest: between(random, 150, 250),
    weather: between(random, 0.4, 1.2),
  };
  const count = days * perDay;
  const [water, room, hot] = [new Float64Array(count), new Float64Array(count), new Uint8Array(count)];
  const waves = spells(random, days / yearDays, 1.5, [3, 6]).map(({ by, ...one }) => ({
    ...one,
    from: house.warmest - 40 + 80 * random.uniform() + yearDays * Math.floor(one.from / yearDays),
    by: 5 + 3 * by,
  }));
  const cuts = spells(random, days / yearDays, 3, [2 / 24, 10 / 24]);
  const turned = { day: days * random.uniform(), by: random.uniform() < 0.5 ? -0.5 : 0.5 };
  const late = Array.from({ length: days }, () => random.uniform() < 0.05);
  let [level, weather, heats, cools] = [25, 0, false, false];
  for (let i = 0; i < count; i++) {
    const day = i / perDay;
    weather +=
      (-weather * hoursStep) / 48 + house.weather * Math.sqrt((2 * hoursStep) / 48) * random.normal();
    const wave = waves.find(({ from, lasts }) => day >= from && day < from + lasts);
    hot[i] = wave === undefined ? 0 : 1;
    const season = 3.5 * Math.cos((2 * Math.PI * (day - house.warmest)) / yearDays);
    const ofDay = 1.2 * Math.cos(2 * Math.PI * (day - 0.65));
    const risen = wave === undefined ? 0 : wave.by * Math.min(1, day - wave.from);
    room[i] = Math.max(17, 20.5 + season + ofDay + weather) + risen;
    const power = !cuts.some(({ from, lasts }) => day >= from && day < from + lasts);
    const set = 25 + (day >= turned.day ? turned.by : 0);
    if (level < set - 0.15) heats = true;
    else if (level > set + 0.15) heats = false;
    if (level > 26.8) cools = true;
    else if (level < 26.3) cools = false;
    const lamps = power && shines(i, late[Math.floor(day)] === true);
    const own = power ? house.byPumps + (heats ? 12 : 0) - (house.cooled && cools ? 8 : 0) : 0;
    const rests = (room[i] ?? 20) + own + (lamps ? house.byLamps : 0);
    level += ((rests - level) * hoursStep) / house.tau;
    if (i % (7 * perDay) === 3 * perDay + 66) level += 0.1 * (between(random, -1, 1) * 4);
    if (stuck !== null && day >= stuck.day)
      level = Math.max(level, (water[i - 1] ?? level) + stuck.perHour * hoursStep);
    water[i] = level;
  }
  return { days, water, room, hot, lampsOn: (i) => shines(i, late[Math.floor(i / perDay)] === true) };
}

/** From 9 to 21, or four hours longer. */
function shines(index: number, late: boolean): boolean {
  const hour = (24 * (index % perDay)) / perDay;
  return hour >= 9 && hour < 21 + (late ? 3 : 0);
}

interface Spell {
  from: number;
  lasts: number;
  by: number;
}

/** So many a year, anywhere in it, each between two lengths in days. */
function spells(
  random: Random,
  years: number,
  aYear: number,
  [low, high]: readonly [number, number],
): Spell[] {
  const count = Math.round(years * aYear + random.uniform() - 0.5);
  return Array.from({ length: count }, () => ({
    from: years * yearDays * random.uniform(),
    lasts: between(random, low, high),
    by: random.uniform(),
  }));
}
