import { z } from 'zod';
import { scales } from '../../platform/units/scales.ts';
import { optionalOnScale } from '../../platform/web/fields/measures.ts';
import { choice, many, optionalChosen, optionalNumber, tick } from '../../platform/web/fields.ts';

/** What labels are printed for: ticked lots, the lots on racks, the slots of racks, racks themselves. */
export const LABELLED = ['lots', 'rack-lots', 'slots', 'racks'] as const;
export type Labelled = (typeof LABELLED)[number];

const count = (what: string, high: number) =>
  optionalNumber({ what, low: 1, high }).pipe(z.number().int('Enter a whole number.').nullable());

/** One where it is left out: an address that names what is printed is enough. */
const countFromOne = (what: string, high: number) => count(what, high).transform((n) => n ?? 1);

/** What is printed on which sheet: a sheet of the farm, or so many rows and columns on a page. */
export const stockPrintingSchema = z
  .object({
    what: choice(LABELLED, 'Choose what the labels are for.'),
    rack: many().pipe(z.array(z.uuid({ error: 'Choose racks of the list.' }))),
    sheet: optionalChosen(),
    rows: count('how many rows', 100),
    columns: count('how many columns', 50),
    pageWidthMm: optionalOnScale({ what: 'the width of the page', low: 20, high: 500 }, scales.mm),
    pageHeightMm: optionalOnScale({ what: 'the height of the page', low: 12, high: 500 }, scales.mm),
    first: countFromOne('the place to begin with', 1000),
    copies: countFromOne('how many labels of each', 100),
    price: tick(),
    hereAlone: tick(),
  })
  .refine(({ sheet, rows }) => sheet !== null || rows !== null, {
    message: 'Choose a sheet, or enter rows and columns.',
    path: ['sheet'],
  })
  .refine(({ rows, columns }) => (rows === null) === (columns === null), {
    message: 'Enter both rows and columns.',
    path: ['columns'],
  });

export type StockPrinting = z.output<typeof stockPrintingSchema>;
