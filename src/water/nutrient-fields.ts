import { inputNumber } from './numbers.ts';
import type { Suggestion } from './nutrient-plans.rules.ts';
import type { NutrientPlan } from './nutrients.rules.ts';
import { type PlanField, planField, planFields, planNames, type TypedPlan } from './nutrients.schema.ts';
import { canonicalADay } from './nutrients.ts';
import { decimalsIn, type Quantity } from './quantities/quantities.ts';

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
