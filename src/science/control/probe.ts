/** What a probe's own signal says of it; times in days, values in any one unit. */
export interface Sample {
  day: number;
  value: number;
}

/** Standard deviation of normal noise for a median absolute difference of neighbours of 1: 1 / (0.6745 sqrt(2)). */
const fromMedianDifference = 1.0483;

function median(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b);
  const middle = sorted.length / 2;
  const [low, high] = [sorted[Math.ceil(middle) - 1], sorted[Math.floor(middle)]];
  return ((low ?? Number.NaN) + (high ?? Number.NaN)) / 2;
}

/**
 * The noise from one sample to the next, as a standard deviation: from the median absolute difference of neighbours, so
 * that neither slow change nor single spikes count (Rousseeuw & Croux 1993 for the factor 1.4826 = 1/0.6745 of the
 * median absolute deviation; neighbours' differences have sqrt(2) the noise). NaN below three samples.
 */
export function neighbourNoise(samples: readonly Sample[]): number {
  if (samples.length < 3) return Number.NaN;
  const differences = samples
    .slice(1)
    .map(({ value }, i) => Math.abs(value - (samples[i]?.value ?? Number.NaN)));
  return fromMedianDifference * median(differences);
}

/** Samples that stand further than `limit` from the median of themselves and two neighbours either side. */
export function spikesOf(samples: readonly Sample[], limit: number): Sample[] {
  return samples.filter(({ value }, i) => {
    const around = samples.slice(Math.max(0, i - 2), i + 3).map((sample) => sample.value);
    return around.length >= 5 && Math.abs(value - median(around)) > limit;
  });
}

/** Smallest difference the samples show; 0 where they show none. */
function resolutionOf(samples: readonly Sample[]): number {
  const steps = samples
    .slice(1)
    .map(({ value }, i) => Math.abs(value - (samples[i]?.value ?? value)))
    .filter((step) => step > 1e-9);
  return steps.length === 0 ? 0 : Math.min(...steps);
}

/** How long a probe has shown the same, and how long it ever did before. */
export interface Flatness {
  /** Days that the last value, give or take one step of the display, has stood. */
  days: number;
  /** The longest such time before it, and how much of a past there is to compare with. */
  longestBefore: number;
  past: number;
}

/** Null below ten samples. */
export function flatness(samples: readonly Sample[]): Flatness | null {
  const [first] = samples;
  const last = samples.at(-1);
  if (samples.length < 10 || first === undefined || last === undefined) return null;
  const step = resolutionOf(samples) * 1.001;
  const runs: { from: number; to: number }[] = [];
  let [low, high, from, to] = [first.value, first.value, first.day, first.day];
  for (const { day, value } of samples) {
    if (Math.max(high, value) - Math.min(low, value) <= step) {
      [low, high] = [Math.min(low, value), Math.max(high, value)];
    } else {
      runs.push({ from, to });
      [low, high, from] = [value, value, day];
    }
    to = day;
  }
  const longest = runs.reduce((most, run) => Math.max(most, run.to - run.from), 0);
  return { days: last.day - from, longestBefore: longest, past: from - first.day };
}
