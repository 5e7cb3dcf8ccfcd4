import { z } from 'zod';
import { optionalOnScale } from '../../platform/web/fields/measures.ts';
import { choice, optionalNumber, text } from '../../platform/web/fields.ts';
import type { Parameter } from '../rule-definition/parameters.ts';

/** Where a limit holds, as a form says it: "farm", "system:<id>", "kind:<id>". */
const place = z.union([z.string(), z.undefined()]).transform((typed, context) => {
  const [kind, id] = (typed ?? 'farm').split(':');
  if (kind === 'farm' && id === undefined) return { systemId: null, kindId: null };
  const parsed = z.uuid().safeParse(id);
  if (parsed.success && kind === 'system') return { systemId: parsed.data, kindId: null };
  if (parsed.success && kind === 'kind') return { systemId: null, kindId: parsed.data };
  context.addIssue({ code: 'custom', message: 'Choose where it holds from the list.' });
  return z.NEVER;
});

/** A limit's number, as its rule has it, of what was typed in the unit the form was drawn in; null for none. */
function limitValue({ label, low, high, unit, scale }: Parameter) {
  const range = { what: `“${label}”`, low, high };
  return scale === undefined
    ? optionalNumber({ ...range, ...(unit === '' ? {} : { unit }) })
    : optionalOnScale(range, scale);
}

/** The form that changes one number of a rule; an empty value takes a setting back. */
export const limitSchema = (parameter: Parameter) =>
  z.object({
    value: limitValue(parameter),
    where: place,
    reason: text('why'),
  });

/** A number of no rule in particular: what can be typed is told by the page of each. */
export const anyNumber: Parameter = {
  label: 'the number',
  unit: '',
  default: 0,
  low: -1e9,
  high: 1e9,
  source: '',
};

/** Over how many of the last days a limit can be tried. */
export const trialDays = ['30', '90', '365'] as const;

/** The form that tries a number on the past before it is kept. */
export const trialSchema = (parameter: Parameter) =>
  limitSchema(parameter).extend({
    days: choice(trialDays, 'Choose over how many days to try it.').transform(Number),
  });
