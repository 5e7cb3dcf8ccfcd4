import { z } from 'zod';
import { number, optionalNumber, whole } from '../platform/web/fields.ts';

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
