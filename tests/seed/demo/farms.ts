import { type DemoFarm, simulate } from '../../../seed/demo/simulate.ts';

export const NOW = new Date('2026-11-25T12:40:00Z');

const grown = new Map<number, DemoFarm>();

/** The farm of a seed at NOW, simulated once. */
export function farmOf(seed: number): DemoFarm {
  const farm = grown.get(seed) ?? simulate({ seed, now: NOW });
  grown.set(seed, farm);
  return farm;
}

/** Seeds to try, each with the way to its farm. */
export const numbers: [number, typeof farmOf][] = [
  [20_261, farmOf],
  [3, farmOf],
];

/** Days since 1970. */
export const dayOf = (at: Date | string): number => new Date(at).getTime() / 86_400_000;

export const mean = (values: readonly number[]): number =>
  values.reduce((sum, value) => sum + value, 0) / values.length;

export const spread = (values: readonly number[]): number =>
  Math.sqrt(mean(values.map((value) => (value - mean(values)) ** 2)));
