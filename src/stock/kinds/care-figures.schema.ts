import { z } from 'zod';
import { number, text } from '../../platform/web/fields.ts';
import { rangeIn } from '../../science/units/convert.ts';
import { QUANTITIES } from '../../science/units/quantities.ts';
import { type FarmUnits, figureFormat } from './care-figure-words.ts';
import { FIGURES, type FigureName, type FigureSpec } from './care-figures.ts';
import type { FigureEdit } from './care-overrides.ts';

const noParts = { low: null, high: null, words: null };

const lowAboveHigh = { message: 'The lower end is above the upper one. Swap them.', path: ['low'] };

/** Limits are shown with four significant digits. */
const rounded = (value: number) => Number(value.toPrecision(4));

/** The least and the most a figure can be, in the farm's unit. */
function limitsOf(spec: FigureSpec, units: FarmUnits): [number, number] {
  const { quantity, least, most } = spec;
  const farm = quantity === undefined ? undefined : units.get(quantity);
  if (quantity === undefined || farm === undefined) {
    const { toFarm } = figureFormat(spec, units);
    return [toFarm(least), toFarm(most)];
  }
  return rangeIn(quantity, QUANTITIES[quantity].possible, farm.unit);
}

/** The form of one figure: typed in the farm's unit, given back in canonical units with the reason. */
export function figureSchema(figure: FigureName, units: FarmUnits): z.ZodType<Omit<FigureEdit, 'figure'>> {
  const spec: FigureSpec = FIGURES[figure];
  const reason = text('the reason; it is shown as the source of the figure', 500);
  if (spec.parts === 'words') {
    return z
      .object({ words: text('what to do', 500), reason })
      .transform((typed) => ({ ...noParts, ...typed }));
  }
  const { unit, toCanonical } = figureFormat(spec, units);
  const [least, most] = limitsOf(spec, units);
  const end = (what: string) =>
    number({ what, low: rounded(least), high: rounded(most), unit }).transform(toCanonical);
  if (spec.parts === 'high') {
    return z.object({ high: end('it'), reason }).transform((typed) => ({ ...noParts, ...typed }));
  }
  return z
    .object({ low: end('the lower end'), high: end('the upper end'), reason })
    .refine((typed) => typed.low <= typed.high, lowAboveHigh)
    .transform((typed) => ({ ...noParts, ...typed }));
}
