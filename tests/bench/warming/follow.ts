import { seededRandom } from '../../../src/science/statistics/random.ts';
import type { ProbeVote, ReadingFact, SystemFacts } from '../../../src/watch/facts/types.ts';
import { warmingFast } from '../../../src/watch/rules/chemistry/warming-fast.ts';
import { blankSystem, dayZero, find, reading } from '../../watch/facts.ts';
import { perDay, type TemperatureWorld, temperatureWorld } from './temperature-world.ts';
import { handTests, type Probe, ProbeReader, type Reading, type Round } from './thermometers.ts';

/** How the temperature of a system is read. */
export interface Habit {
  name: string;
  probe?: Probe;
  round?: Round;
}

/** Alerts of a year by what the water truly did, and how a heater that sticks on is told: hours since then, and degrees above. */
export interface Followed {
  falsely: number;
  inHeat: number;
  warm: number;
  told: { hours: number; after: number; above: number };
}

const [warmUp, yearDays, troubleDays] = [14, 365, 4];
/** A value of each half hour is kept, of ten days, as the service loads them. */
const [bins, traceDays] = [48, 10];
/** Truly so much above its usual high it is no false alert; own choice, less than the rule's own degree. */
const truly = 0.7;
/** So long without an alert the next one is a new one; the rule's own. */
const quietDays = warmingFast.quietHours / 24;

/** A year in control, or with a heater that sticks on at a time of it until it is told or four days later. */
export function follow(habit: Habit, seed: number, perHour: number | null): Followed {
  const onset = warmUp + yearDays * seededRandom(seed + 3).uniform();
  const days = perHour === null ? warmUp + yearDays : Math.ceil(onset + troubleDays);
  const world = temperatureWorld(days, seed, perHour === null ? null : { day: onset, perHour });
  const from = perHour === null ? warmUp : onset;
  const seen = new Seen(world, habit, seed);
  const followed: Followed = { falsely: 0, inHeat: 0, warm: 0, told: never };
  let last = Number.NEGATIVE_INFINITY;
  for (const day of seen.moments()) {
    if (!seen.look(day) || day < from || !seen.isWorthAsking()) continue;
    if (find(warmingFast, seen.facts(), day).length === 0) continue;
    const isNew = day - last > quietDays;
    last = day;
    if (perHour !== null) return { ...followed, told: toldAt(world, from, day) };
    if (isNew) followed[kindOf(world, seen.lastTwo(), day)] += 1;
  }
  return followed;
}

function kindOf(
  world: TemperatureWorld,
  two: readonly Reading[],
  day: number,
): 'falsely' | 'inHeat' | 'warm' {
  const lowest = Math.min(...two.map((one) => levelAt(world, one.day)));
  if (lowest - usualHigh(world, day) < truly) return 'falsely';
  return world.hot[Math.floor(day * perDay)] === 1 ? 'inHeat' : 'warm';
}

const levelAt = (world: TemperatureWorld, day: number) =>
  world.water[Math.floor(day * perDay + 1e-6)] ?? Number.NaN;

/** The middle of the true highs of the seven days before the last half day. */
function usualHigh(world: TemperatureWorld, day: number): number {
  const end = Math.floor((day - 0.5) * perDay);
  const highs = Array.from({ length: 7 }, (_, n) =>
    Math.max(...world.water.subarray(Math.max(0, end - (n + 1) * perDay), end - n * perDay)),
  );
  return highs.sort((a, b) => a - b)[3] ?? Number.NaN;
}

const never: Followed['told'] = {
  hours: Number.POSITIVE_INFINITY,
  after: Number.POSITIVE_INFINITY,
  above: Number.POSITIVE_INFINITY,
};

function toldAt(world: TemperatureWorld, onset: number, day: number): Followed['told'] {
  const usual = usualHigh(world, onset);
  const begun = Math.ceil(onset * perDay);
  const passed = world.water.findIndex((level, i) => i >= begun && level >= usual + 1) / perDay;
  return {
    hours: 24 * (day - onset),
    after: passed < 0 ? 0 : 24 * Math.max(0, day - passed),
    above: levelAt(world, day) - usual,
  };
}

/** What is known of a system as its days go by. */
class Seen {
  readonly #world: TemperatureWorld;
  readonly #habit: Habit;
  readonly #probe: ProbeReader | null;
  readonly #tests: Reading[];
  #samples: Reading[] = [];
  #readings: ReadingFact[] = [];
  #next = 0;

  constructor(world: TemperatureWorld, habit: Habit, seed: number) {
    this.#world = world;
    this.#habit = habit;
    this.#probe = habit.probe === undefined ? null : new ProbeReader(world, habit.probe, seed + 1);
    this.#tests = habit.round === undefined ? [] : handTests(world, habit.round, seed + 2);
  }

  /** Of a probe each ten minutes, and a minute after each half hour where it reports as often; else after each test. */
  *moments(): Generator<number> {
    if (this.#habit.probe === undefined) {
      for (const { day } of this.#tests) yield day + 1 / 1440;
      return;
    }
    const often = this.#habit.probe.everyMinutes === 1;
    for (let i = 1; i < this.#world.days * perDay; i++) {
      // The last report of a half hour, and the first of the next: a minute apart.
      if (often && i % 3 === 0) yield i / perDay - 1 / 1440;
      yield i / perDay;
    }
  }

  /** Takes in what was read up to a time; whether anything was since the look before. */
  look(day: number): boolean {
    const before = this.#next;
    while ((this.#tests[this.#next]?.day ?? Number.POSITIVE_INFINITY) <= day) this.#next += 1;
    for (const { day: at, value } of this.#tests.slice(before, this.#next))
      this.#readings.push(reading(at, value, 0.3, { methodId: 'hand' }));
    this.#readings = this.#readings.slice(-60);
    if (this.#probe !== null) this.#keep(this.#probe.at(day));
    return this.#probe !== null || this.#next > before;
  }

  facts(): SystemFacts {
    return blankSystem({
      readings: new Map([['temperature', this.#readings]]),
      probeVotes: this.#probe === null ? [] : [voteOf(this.#samples)],
    });
  }

  /** Of each half hour the newest value. */
  #keep(sample: Reading): void {
    const bin = (one: Reading) => Math.floor(one.day * bins + 1e-6);
    const last = this.#samples.at(-1);
    if (last !== undefined && bin(last) === bin(sample)) this.#samples.pop();
    this.#samples.push(sample);
    while ((this.#samples[0]?.day ?? sample.day) < sample.day - traceDays) this.#samples.shift();
  }

  lastTwo(): Reading[] {
    const tests = this.#readings.slice(-2).map(({ day, value }) => ({ day: day - dayZero, value }));
    return [...tests, ...this.#samples.slice(-2)].sort((a, b) => a.day - b.day).slice(-2);
  }

  /** The rule can only tell where both values stand a degree above the coolest value of the week, whatever its highs are. */
  isWorthAsking(): boolean {
    const [before, last] = this.lastTwo();
    if (before === undefined || last === undefined) return false;
    const least = Math.min(before.value, last.value) - worthFrom;
    return (
      this.#samples.some(({ value }) => value <= least) || this.#readings.some(({ value }) => value <= least)
    );
  }
}

/** A little less than the rule's degree. */
const worthFrom = 0.95;

function voteOf(samples: readonly Reading[]): ProbeVote {
  const trace = {
    ...{ code: 'temperature', methodId: 'probe', kitId: 'kit', label: 'Probe', selfReporting: true },
    ...{ u: 0.1, everyMinutes: 10 },
    samples: samples.map(({ day, value }) => ({ day: dayZero + day, value })),
  };
  return { trace, doubt: null } as unknown as ProbeVote;
}
