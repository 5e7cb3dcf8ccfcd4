/** Source of chance that repeats itself for the same seed; never for secrets. */
export interface Random {
  /** Uniform on [0, 1), 32 bits fine. */
  uniform(): number;
  /** Standard normal. */
  normal(): number;
  /** Whole number from 0 to n - 1. */
  below(n: number): number;
}

/**
 * Seeded random numbers by sfc32 ("small fast counter", C. Doty-Humphrey, PractRand), the seed spread over its
 * four words by repeated mixing. The same seed gives the same numbers on every machine.
 */
export function seededRandom(seed: number): Random {
  const next = sfc32(seed);
  const uniform = () => next() / 2 ** 32;
  return {
    uniform,
    // Box and Muller 1958; 1 - u keeps the logarithm finite.
    normal: () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform()),
    below: (n) => Math.floor(uniform() * n),
  };
}

/** Shuffles the first `count` places of `items` in place (Fisher and Yates), so that they are a random choice. */
export function shuffleFirst<T>(items: T[], count: number, random: Random): void {
  for (let i = 0; i < Math.min(count, items.length - 1); i++) {
    const j = i + random.below(items.length - i);
    const held = items[i] as T;
    items[i] = items[j] as T;
    items[j] = held;
  }
}

function sfc32(seed: number): () => number {
  let [a, b, c, counter] = [seed | 0, Math.floor(seed / 2 ** 32) | 0, 0x9e3779b9 | 0, 1];
  const next = () => {
    const sum = (a + b + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (((c << 21) | (c >>> 11)) + sum) | 0;
    return sum >>> 0;
  };
  for (let warmUp = 0; warmUp < 15; warmUp++) next();
  return next;
}
