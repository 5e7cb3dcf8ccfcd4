/**
 * Chance by what it is for: the same seed and the same words give the same number, whatever else was asked before. So
 * every policy meets the same troubles, the same slips of tests and the same missed days, and farm-years are compared in
 * pairs.
 */
export class Chance {
  readonly #seed: number;

  constructor(seed: number) {
    this.#seed = seed;
  }

  /** Uniform on (0, 1). */
  uniform(...what: readonly (string | number)[]): number {
    return (mix(this.#seed, what.join(' ')) + 0.5) / 2 ** 32;
  }

  /** Uniform between two numbers. */
  between(low: number, high: number, ...what: readonly (string | number)[]): number {
    return low + (high - low) * this.uniform(...what);
  }

  /** Standard normal (Box and Muller 1958). */
  normal(...what: readonly (string | number)[]): number {
    const [a, b] = [this.uniform(...what, 'a'), this.uniform(...what, 'b')];
    return Math.sqrt(-2 * Math.log(a)) * Math.cos(2 * Math.PI * b);
  }

  /** True with this probability. */
  happens(probability: number, ...what: readonly (string | number)[]): boolean {
    return this.uniform(...what) < probability;
  }

  /** Days until something that comes with this mean. */
  wait(meanDays: number, ...what: readonly (string | number)[]): number {
    return -meanDays * Math.log(this.uniform(...what));
  }

  /** One of several. */
  pick<T>(from: readonly T[], ...what: readonly (string | number)[]): T {
    return from[Math.floor(this.uniform(...what) * from.length)] as T;
  }
}

/** FNV-1a over the text, then the last mixing of MurmurHash3 (both public domain): 32 bits. */
function mix(seed: number, text: string): number {
  let hash = (0x811c9dc5 ^ seed) >>> 0;
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193);
  hash = Math.imul(hash ^ (hash >>> 16), 0x85ebca6b);
  hash = Math.imul(hash ^ (hash >>> 13), 0xc2b2ae35);
  return (hash ^ (hash >>> 16)) >>> 0;
}
