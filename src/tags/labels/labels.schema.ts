import { z } from 'zod';
import { scales } from '../../platform/units/scales.ts';
import { onScale } from '../../platform/web/fields/measures.ts';
import { chosen, many, optionalNumber, text, tick, whole } from '../../platform/web/fields.ts';

/** A length on paper, typed in the small unit of whoever types, kept in mm. */
const mm = (what: string, low: number, high: number) => onScale({ what, low, high }, scales.mm);

/** A new label sheet; its sizes come out in mm. */
export const sheetSchema = z.object({
  name: text('a name', 80),
  pageWidthMm: mm('the width of the page', 20, 500),
  pageHeightMm: mm('the height of the page', 12, 500),
  widthMm: mm('the width of a label', 30, 300),
  heightMm: mm('the height of a label', 15, 300),
  rows: whole({ what: 'how many rows', low: 1, high: 100 }),
  columns: whole({ what: 'how many columns', low: 1, high: 50 }),
  topMm: mm('the distance from the top', 0, 200),
  leftMm: mm('the distance from the left', 0, 200),
  gapXMm: mm('the gap between columns', 0, 100),
  gapYMm: mm('the gap between rows', 0, 100),
});

/** What is printed. The form and the file's address have the same fields. */
export const printingSchema = z.object({
  tag: many().pipe(z.array(z.uuid({ error: 'Choose tags of the list.' })).min(1, 'Choose at least one tag.')),
  sheet: chosen('Choose a sheet.'),
  first: whole({ what: 'the place to begin with', low: 1, high: 1000 }),
  copies: optionalNumber({ what: 'how many labels a tag', low: 1, high: 1000 }).pipe(
    z.number().int('Enter a whole number of labels.').nullable(),
  ),
  price: tick(),
  hereAlone: tick(),
});
