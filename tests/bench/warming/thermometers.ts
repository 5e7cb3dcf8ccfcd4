import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import { perDay, type TemperatureWorld } from './temperature-world.ts';

/** How a temperature is read. */
export interface Reading {
  day: number;
  value: number;
}

export interface Probe {
  everyMinutes: number;
  noise: number;
  /** SD by which it drifts in a month. */
  drift: number;
}

/** A slip of a probe: out of the water, touched, or an odd value; from and until in days. */
interface Slip {
  from: number;
  until: number;
  by: number | null;
}

const [outOfWater, oddValues] = [20, 25];

/** What a probe shows at a time: rounded to a tenth, with noise and drift; at times it hangs in the air, or shows one odd value. */
export class ProbeReader {
  readonly #world: TemperatureWorld;
  readonly #probe: Probe;
  readonly #random: Random;
  readonly #slips: Slip[];
  #bias = 0;
  #day = 0;

  constructor(world: TemperatureWorld, probe: Probe, seed: number) {
    this.#world = world;
    this.#probe = probe;
    this.#random = seededRandom(seed);
    const slips = (aYear: number) =>
      Array.from(
        { length: Math.round((aYear * world.days) / 365) },
        () => world.days * this.#random.uniform(),
      );
    this.#slips = [
      ...slips(outOfWater).map((from) => ({
        from,
        until: from + (2 + 38 * this.#random.uniform()) / 1440,
        by: null,
      })),
      ...slips(oddValues).map((from) => ({
        from,
        until: from + this.#probe.everyMinutes / 1440,
        by: 4 * this.#random.normal(),
      })),
    ];
  }

  /** The last report at or before a time; to be asked in order of time. */
  at(day: number): Reading {
    const { water, room } = this.#world;
    const minutes = this.#probe.everyMinutes;
    const shown = (Math.floor((day * 1440) / minutes + 1e-6) * minutes) / 1440;
    const index = Math.min(water.length - 1, Math.floor(shown * perDay + 1e-6));
    this.#bias += this.#probe.drift * Math.sqrt(Math.max(0, shown - this.#day) / 30) * this.#random.normal();
    this.#day = Math.max(this.#day, shown);
    const slip = this.#slips.find(({ from, until }) => shown >= from && shown < until);
    const inAir = (room[index] ?? 20) + (this.#world.lampsOn(index) ? 3 : 0);
    const truly = slip?.by === null ? inAir : (water[index] ?? 25) + (slip?.by ?? 0);
    return { day: shown, value: tenth(truly + this.#bias + this.#probe.noise * this.#random.normal()) };
  }
}

const tenth = (value: number) => Math.round(10 * value) / 10;

/** Who reads a thermometer when: hours of the day, on which days of seven. */
export interface Round {
  hours: readonly number[];
  weekdays: readonly number[];
}

/** A reading that is so much above the last one is made again at once, by another thermometer, in nine cases of ten. */
const [surprising, repeats] = [1, 0.9];
const [thermometersDiffer, readingError] = [0.3, 0.15];

/** Tests by hand: each hour of the day is one person with an own thermometer, up to an hour early or late; a twentieth is missed. */
export function handTests(world: TemperatureWorld, { hours, weekdays }: Round, seed: number): Reading[] {
  const random = seededRandom(seed);
  const biases = hours.map(() => thermometersDiffer * random.normal());
  const other = thermometersDiffer * random.normal();
  const all: Reading[] = [];
  for (let date = 0; date < world.days; date++) {
    if (!weekdays.includes(date % 7)) continue;
    for (const [n, hour] of hours.entries()) {
      if (random.uniform() < 0.05) continue;
      const day = date + (hour + 2 * random.uniform() - 1) / 24;
      const truly = world.water[Math.floor(day * perDay)] ?? 25;
      const last = all.at(-1)?.value;
      const value = tenth(truly + (biases[n] ?? 0) + readingError * random.normal());
      all.push({ day, value });
      if (last !== undefined && value >= last + surprising && random.uniform() < repeats)
        all.push({ day: day + 10 / 1440, value: tenth(truly + other + readingError * random.normal()) });
    }
  }
  return all;
}
