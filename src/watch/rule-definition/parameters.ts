import { z } from 'zod';
import type { Scale } from '../../platform/units/scales.ts';

/** One number of a rule that a farm may set, and where its default comes from. */
export interface Parameter {
  label: string;
  unit: string;
  /** Where people have units of their own for it; `unit` and the numbers here are those of the scale. */
  scale?: Scale;
  default: number;
  low: number;
  high: number;
  source: string;
}

export type ParameterSet = Readonly<Record<string, Parameter>>;

/** A rule's numbers as they hold for one subject. */
export type Values<K extends ParameterSet> = { readonly [name in keyof K]: number };

/** The schema of what a farm, a system or a kind sets of a rule: any of its numbers, within their ranges. */
export function settingsSchema(parameters: ParameterSet) {
  const shape = Object.entries(parameters).map(([name, { low, high, label, unit }]) => {
    const message = `${label}: ${low} to ${high}${unit === '' ? '' : ` ${unit}`}.`;
    return [name, z.number({ error: message }).min(low, message).max(high, message).optional()] as const;
  });
  return z.strictObject(Object.fromEntries(shape));
}

/** The numbers that hold when nobody has set any. */
export function defaultsOf<K extends ParameterSet>(parameters: K): Values<K> {
  return Object.fromEntries(
    Object.entries(parameters).map(([name, parameter]) => [name, parameter.default]),
  ) as unknown as Values<K>;
}
