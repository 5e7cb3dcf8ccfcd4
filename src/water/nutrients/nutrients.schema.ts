import { z } from 'zod';
import { number, optionalNumber, whole } from '../../platform/web/fields.ts';
import { inputNumber } from '../../platform/words/numbers.ts';
import { decimalsIn, type Quantity } from '../quantities/quantities.ts';
import { canonicalADay } from './nutrients.ts';
import type { NutrientPlan } from './projection.rules.ts';
import type { Suggestion } from './scenarios.rules.ts';

/** The two plans that are compared, and the fields of each. */
export const planNames = ['a', 'b'] as const;
export type PlanName = (typeof planNames)[number];

const fields = {
  size: number({ what: 'the size of the first changes', low: 0, high: 80, unit: '%' }),
  every: number({ what: 'the days between them', low: 0.5, high: 60, unit: 'days' }),
  count: whole({ what: 'how many', low: 0, high: 60 }),
  thenSize: number({ what: 'the size of the later changes', low: 0, high: 80, unit: '%' }),
  thenEvery: number({ what: 'the days between them', low: 0.5, high: 90, unit: 'days' }),
  removed: number({ what: 'what is taken out', low: 0, high: 1000 }),
  feeding: number({ what: 'the change of feeding', low: -100, high: 300, unit: '%' }),
  dosed: number({ what: 'what is dosed', low: 0, high: 100 }),
};

export type PlanField = keyof typeof fields;
export const planFields = Object.keys(fields) as PlanField[];

/** The name of one field of one plan: "a-size". */
export const planField = (plan: PlanName, field: PlanField): string => `${plan}-${field}`;

/** What the address asks for: the target and both plans, in the farm's units and per cent. */
export const nutrientsSchema = z
  .object({
    target: optionalNumber({ what: 'the level wanted', low: 0, high: 1000 }),
    ...Object.fromEntries(
      planNames.flatMap((plan) =>
        planFields.map((field) => [planField(plan, field), fields[field]] as const),
      ),
    ),
  })
  .transform((typed) => {
    const said = typed as Record<string, number | null>;
    const of = (plan: PlanName) =>
      Object.fromEntries(planFields.map((field) => [field, said[planField(plan, field)] ?? 0])) as Record<
        PlanField,
        number
      >;
    return { target: typed.target, a: of('a'), b: of('b') };
  });

export type TypedPlan = Record<PlanField, number>;

/** A plan as its fields say it, in canonical units; shares are typed in per cent. */
export function planOf(quantity: Quantity, typed: TypedPlan): NutrientPlan {
  return {
    first: { fraction: typed.size / 100, everyDays: typed.every, count: typed.count },
    habit: { fraction: typed.thenSize / 100, everyDays: typed.thenEvery },
    removed: canonicalADay(quantity, typed.removed),
    feeding: typed.feeding / 100,
    dosed: canonicalADay(quantity, typed.dosed),
  };
}

/** The fields of both plans as they are typed: what the form begins with. */
export function typedOf(quantity: Quantity, plans: Suggestion): Record<string, string> {
  const digits = decimalsIn(quantity, quantity.displayUnit) + 1;
  const farm = (rate: number) => inputNumber(rate / canonicalADay(quantity, 1), digits);
  const fields = ({ first, habit, removed, feeding, dosed }: NutrientPlan): Record<PlanField, string> => ({
    size: inputNumber(first.fraction * 100, 1),
    every: inputNumber(first.everyDays, 1),
    count: inputNumber(first.count),
    thenSize: inputNumber(habit.fraction * 100, 1),
    thenEvery: inputNumber(habit.everyDays, 1),
    removed: farm(removed),
    feeding: inputNumber(feeding * 100, 1),
    dosed: farm(dosed),
  });
  return Object.fromEntries(
    planNames.flatMap((name) => {
      const values = fields(plans[name]);
      return planFields.map((field) => [planField(name, field), values[field]] as const);
    }),
  );
}
