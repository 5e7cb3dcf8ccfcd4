import { neighbourNoise, type Sample } from './probe.ts';

/** Values that stand still: since when, and how far they moved within that time. */
export interface StandingStill {
  sinceDay: number;
  range: number;
}

/** Values of a digital display count as equal within this. */
const equal = 1e-9;

/**
 * The last values where they are all equal, `fewest` of them at least over `days` at least, and twice as long as ever
 * before where there is as much of a past; null where they are not.
 */
export function equalValues(
  samples: readonly Sample[],
  { days, fewest }: { days: number; fewest: number },
): StandingStill | null {
  const runs = equalRuns(samples);
  const last = runs.at(-1);
  if (last === undefined || last.count < fewest || last.to - last.from < days) return null;
  const before = runs.slice(0, -1);
  const past = last.from - (before[0]?.from ?? last.from);
  const longest = before.reduce((most, run) => Math.max(most, run.to - run.from), 0);
  if (past >= days && last.to - last.from < 2 * longest) return null;
  return { sinceDay: last.from, range: 0 };
}

function equalRuns(samples: readonly Sample[]) {
  const runs: { from: number; to: number; count: number; value: number }[] = [];
  for (const { day, value } of samples) {
    const run = runs.at(-1);
    if (run === undefined || Math.abs(value - run.value) > equal)
      runs.push({ from: day, to: day, count: 1, value });
    else Object.assign(run, { to: day, count: run.count + 1 });
  }
  return runs;
}

const median = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)] ?? Number.NaN;

/** Noise is taken out by the median of three hours. */
const blockDays = 3 / 24;
/** A day's swing needs so many of its eight blocks. */
const leastBlocks = 6;

interface Block {
  day: number;
  value: number;
}

function blocksOf(samples: readonly Sample[], endDay: number): Block[] {
  const groups = Map.groupBy(samples, ({ day }) => Math.floor((endDay - day) / blockDays));
  return [...groups]
    .map(([back, own]) => ({
      day: endDay - (back + 1) * blockDays,
      value: median(own.map(({ value }) => value)),
    }))
    .sort((a, b) => a.day - b.day);
}

const rangeOf = (blocks: readonly Block[]) =>
  Math.max(...blocks.map(({ value }) => value)) - Math.min(...blocks.map(({ value }) => value));

/** A day that swings less than this part of the days before has stood still; own choice. */
const stillShare = 0.25;

/**
 * The last day or more where a probe only shows noise about one value, though the days before (or, without two of them,
 * `usualRange`: the least that a day moves) swung at least four times as far; null where it swings, or where nothing
 * says that it should.
 */
export function noisyStill(samples: readonly Sample[], usualRange: number | null): StandingStill | null {
  const end = samples.at(-1)?.day;
  if (end === undefined) return null;
  const blocks = blocksOf(samples, end);
  const between = (from: number, to: number) =>
    blocks.filter(({ day }) => day >= from - 1e-6 && day < to - 1e-6);
  const today = between(end - 1, end);
  if (today.length < leastBlocks) return null;
  const earlier = [2, 3, 4, 5, 6, 7, 8, 9].flatMap((back) => {
    const own = between(end - back, end - back + 1);
    return own.length >= leastBlocks ? [rangeOf(own)] : [];
  });
  // A probe that has stood still for days is measured by the days on which it moved.
  const swing =
    earlier.length >= 2
      ? (earlier.toSorted((a, b) => b - a)[Math.floor(earlier.length / 4)] ?? 0)
      : usualRange;
  const range = rangeOf(today);
  if (swing === null || swing <= 2 * noiseOf(samples) || range > stillShare * swing) return null;
  const middle = median(today.map(({ value }) => value));
  const moved = blocks.findLast(
    ({ day, value }) => day < end - 1 && Math.abs(value - middle) > stillShare * swing,
  );
  return { sinceDay: moved === undefined ? (blocks[0]?.day ?? end - 1) : moved.day + blockDays, range };
}

/** Noise of a median of three hours. */
const noiseOf = (samples: readonly Sample[]): number => {
  const noise = neighbourNoise(samples);
  return Number.isNaN(noise) ? 0 : noise / 2;
};

/** A jump between two neighbouring values. */
interface Jump {
  day: number;
  by: number;
}

/** A jump is this many times the noise. */
const jumpNoise = 5;
/** What switches comes at the same time of day, within this; days. */
const sameTime = 0.75 / 24;

/** Jumps up at one time of day and down at another, on two days at least. */
export interface SwitchedSteps {
  sinceDay: number;
  by: number;
}

/**
 * Steps that come and go at the same two times of day, as something switched makes them and water does not (an electrical
 * leak of a lamp or pump); at least `least` high. Null where there are none.
 */
export function switchedSteps(samples: readonly Sample[], least: number): SwitchedSteps | null {
  const jumps = jumpsOf(samples, Math.max(least, jumpNoise * neighbourNoise(samples)));
  const ups = recurring(jumps.filter(({ by }) => by > 0));
  const downs = recurring(jumps.filter(({ by }) => by < 0));
  if (ups.length < 2 || downs.length < 2) return null;
  const [up, down] = [median(ups.map(({ by }) => by)), -median(downs.map(({ by }) => by))];
  if (Math.max(up, down) > 2 * Math.min(up, down)) return null;
  return { sinceDay: Math.min(ups[0]?.day ?? 0, downs[0]?.day ?? 0), by: (up + down) / 2 };
}

function jumpsOf(samples: readonly Sample[], limit: number): Jump[] {
  return samples.flatMap(({ day, value }, i) => {
    const before = samples[i - 1];
    const [past, next] = [samples.slice(Math.max(0, i - 3), i), samples.slice(i, i + 3)];
    if (before === undefined || past.length < 3 || next.length < 3 || day - before.day > 0.05) return [];
    const by = median(next.map((one) => one.value)) - median(past.map((one) => one.value));
    const once = value - before.value;
    return Math.abs(by) > limit && Math.abs(once) > limit && Math.sign(by) === Math.sign(once)
      ? [{ day, by }]
      : [];
  });
}

/** The jumps of the time of day at which most come, on different days. */
function recurring(jumps: readonly Jump[]): Jump[] {
  const near = (a: Jump, b: Jump) => {
    const apart = Math.abs(a.day - b.day) % 1;
    return Math.min(apart, 1 - apart) <= sameTime;
  };
  const groups = jumps.map((one) =>
    jumps.filter((other) => other === one || (near(one, other) && Math.abs(one.day - other.day) > 0.5)),
  );
  return groups.sort((a, b) => b.length - a.length)[0] ?? [];
}
