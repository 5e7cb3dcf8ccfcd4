import { z } from 'zod';
import { number, optionalNumber, whole } from '../../platform/web/fields.ts';
import { inputNumber } from '../../platform/words/numbers.ts';
import { decimalsIn, type Quantity } from '../quantities/quantities.ts';
import { toCanonicalPerDay } from './nutrients.ts';
import type { NutrientPlan } from './projection.rules.ts';
import type { SuggestedPlans } from './scenarios.rules.ts';

/** The two plans that are compared, and the fields of each. */
export const planNames = ['a', 'b'] as const;
export type PlanName = (typeof planNames)[number];

const fieldSchemas = {
  size: number({ what: 'the size of the first changes', low: 0, high: 80, unit: '%' }),
  every: number({ what: 'the days between them', low: 0.5, high: 60, unit: 'days' }),
  count: whole({ what: 'how many', low: 0, high: 60 }),
  thenSize: number({ what: 'the size of the later changes', low: 0, high: 80, unit: '%' }),
  thenEvery: number({ what: 'the days between them', low: 0.5, high: 90, unit: 'days' }),
  removed: number({ what: 'what is taken out', low: 0, high: 1000 }),
  feeding: number({ what: 'the change of feeding', low: -100, high: 300, unit: '%' }),
  dosed: number({ what: 'what is dosed', low: 0, high: 100 }),
};

/** A field of a plan, and the fields in the order of the form. */
export type PlanField = keyof typeof fieldSchemas;
export const planFieldNames = Object.keys(fieldSchemas) as PlanField[];

/** The name of one field of one plan in the form: "a-size". */
export const planInputName = (plan: PlanName, field: PlanField): string => `${plan}-${field}`;

/** The query of the address: the target and both plans, in the farm's unit and per cent. */
export const nutrientsSchema = z
  .object({
    target: optionalNumber({ what: 'the level wanted', low: 0, high: 1000 }),
    ...Object.fromEntries(
      planNames.flatMap((plan) =>
        planFieldNames.map((field) => [planInputName(plan, field), fieldSchemas[field]] as const),
      ),
    ),
  })
  .transform((typed) => {
    const values = typed as Record<string, number | null>;
    const planTyped = (plan: PlanName) =>
      Object.fromEntries(
        planFieldNames.map((field) => [field, values[planInputName(plan, field)] ?? 0]),
      ) as Record<PlanField, number>;
    return { target: typed.target, a: planTyped('a'), b: planTyped('b') };
  });

/** A plan as typed: per cent, days and the farm's unit. */
export type TypedPlan = Record<PlanField, number>;

/** A typed plan in canonical units and parts of one. */
export function planOf(quantity: Quantity, typed: TypedPlan): NutrientPlan {
  return {
    first: { fraction: typed.size / 100, everyDays: typed.every, count: typed.count },
    later: { fraction: typed.thenSize / 100, everyDays: typed.thenEvery },
    removed: toCanonicalPerDay(quantity, typed.removed),
    feeding: typed.feeding / 100,
    dosed: toCanonicalPerDay(quantity, typed.dosed),
  };
}

/** The values that the form starts with, by field name, in the farm's unit and per cent. */
export function planFormValues(quantity: Quantity, plans: SuggestedPlans): Record<string, string> {
  const digits = decimalsIn(quantity, quantity.displayUnit) + 1;
  const inFarm = (rate: number) => inputNumber(rate / toCanonicalPerDay(quantity, 1), digits);
  const valuesOf = ({ first, later, removed, feeding, dosed }: NutrientPlan): Record<PlanField, string> => ({
    size: inputNumber(first.fraction * 100, 1),
    every: inputNumber(first.everyDays, 1),
    count: inputNumber(first.count),
    thenSize: inputNumber(later.fraction * 100, 1),
    thenEvery: inputNumber(later.everyDays, 1),
    removed: inFarm(removed),
    feeding: inputNumber(feeding * 100, 1),
    dosed: inFarm(dosed),
  });
  return Object.fromEntries(
    planNames.flatMap((name) => {
      const values = valuesOf(plans[name]);
      return planFieldNames.map((field) => [planInputName(name, field), values[field]] as const);
    }),
  );
}
