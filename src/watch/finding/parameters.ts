import { z } from 'zod';

/** One number of a rule that a farm may set, and where its default comes from. */
export interface Knob {
  label: string;
  unit: string;
  default: number;
  low: number;
  high: number;
  source: string;
}

export type Knobs = Readonly<Record<string, Knob>>;

/** A rule's numbers as they hold for one subject. */
export type Values<K extends Knobs> = { readonly [name in keyof K]: number };

/** The schema of what a farm, a system or a kind sets of a rule: any of its numbers, within their ranges. */
export function settingsSchema(knobs: Knobs) {
  const shape = Object.entries(knobs).map(([name, { low, high, label, unit }]) => {
    const message = `${label}: ${low} to ${high}${unit === '' ? '' : ` ${unit}`}.`;
    return [name, z.number({ error: message }).min(low, message).max(high, message).optional()] as const;
  });
  return z.strictObject(Object.fromEntries(shape));
}

/** The numbers that hold when nobody has set any. */
export function defaultsOf<K extends Knobs>(knobs: K): Values<K> {
  return Object.fromEntries(
    Object.entries(knobs).map(([name, knob]) => [name, knob.default]),
  ) as unknown as Values<K>;
}
