import { z } from 'zod';
import { optionalNumber, optionalText, tick } from '../../platform/web/fields.ts';
import { likelyIntended } from '../entry/entry.rules.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { farmValue, type Quantity } from '../quantities/quantities.ts';

/** The figures a system keeps of one quantity, in the order of the form. */
export const targetFields = ['low', 'high', 'limit', 'makeUp'] as const;
export type TargetField = (typeof targetFields)[number];

export const fieldWords = {
  low: 'the lower end',
  high: 'the upper end',
  limit: 'the limit',
  makeUp: 'the make-up water',
} as const;

/** The name of one field in the form: "alkalinity-low". */
export const targetInputName = (code: string, field: TargetField | 'source' | 'sure') => `${code}-${field}`;

/** One quantity's row of the form, in the farm's unit. */
export type TargetRow = Record<TargetField, number | null> & {
  source: string;
  /** The person says that figures that were asked about are right. */
  sure: boolean;
};

/** The targets form: by quantity code, in the farm's units. */
export function targetsSchema(quantities: readonly Quantity[]) {
  const fields = quantities.flatMap((quantity) => {
    const [low, high] = [quantity.possibleLow, quantity.possibleHigh].map((end) => farmEnd(quantity, end));
    const range = (field: TargetField) => ({
      what: `${fieldWords[field]} of ${nameInSentence(quantity.name)}`,
      low: low ?? 0,
      high: high ?? 0,
      meant: (value: number) => likelyIntended(quantity, { value, unit: quantity.displayUnit }, null),
    });
    const numbers = targetFields.map(
      (field) => [targetInputName(quantity.code, field), optionalNumber(range(field))] as const,
    );
    return [
      ...numbers,
      [targetInputName(quantity.code, 'source'), optionalText(300)] as const,
      [targetInputName(quantity.code, 'sure'), tick()] as const,
    ];
  });
  return z.object(Object.fromEntries(fields)).transform((typed) => {
    const typedValue = (code: string, field: TargetField | 'source' | 'sure') =>
      (typed as Record<string, unknown>)[targetInputName(code, field)];
    const row = (code: string): TargetRow => ({
      low: typedValue(code, 'low') as number | null,
      high: typedValue(code, 'high') as number | null,
      limit: typedValue(code, 'limit') as number | null,
      makeUp: typedValue(code, 'makeUp') as number | null,
      source: typedValue(code, 'source') as string,
      sure: typedValue(code, 'sure') as boolean,
    });
    return new Map(quantities.map(({ code }) => [code, row(code)]));
  });
}

/** An end of the possible range in the farm's unit; the plausible end where that unit cannot express it. */
function farmEnd(quantity: Quantity, canonical: number): number {
  const { value, unit } = farmValue(quantity, canonical);
  if (unit === quantity.displayUnit) return Number(value.toPrecision(6));
  const plausible = canonical <= quantity.plausibleLow ? quantity.plausibleLow : quantity.plausibleHigh;
  return Number(farmValue(quantity, plausible).value.toPrecision(6));
}
