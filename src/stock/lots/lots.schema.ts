import { z } from 'zod';
import { localDay } from '../../platform/days.ts';
import { optionalPieceSize } from '../../platform/web/fields/measures.ts';
import {
  choice,
  many,
  optionalDay,
  optionalText,
  pageNumber,
  tick,
  version,
  whole,
} from '../../platform/web/fields.ts';
import { pastDayOrMoment } from '../../platform/web/moments.ts';
import { inputAmount, parseAmount } from '../../platform/words/money.ts';
import { pastDay } from './identifications.schema.ts';
import { QUALIFIERS } from './identifications.ts';
import type { LotEdit, NewLot } from './lots.ts';
import { LOT_SETS } from './search.ts';

/** A price of one piece in the site's currency, as minor units; null where none was typed. */
export const price = (currency: string | null) =>
  optionalText(40).transform((typed, context): number | null => {
    if (typed === '') return null;
    const minor = currency === null ? null : parseAmount(typed, currency);
    if (minor !== null) return minor;
    const message =
      currency === null
        ? 'Choose the currency first, under Farm, The site. Prices are kept in it.'
        : `Enter the price of one piece in ${currency}, like ${inputAmount({ minor: 1250, currency })}.`;
    context.addIssue({ code: 'custom', message });
    return z.NEVER;
  });

const details = (currency: string | null) => ({
  ownCode: optionalText(40),
  tradeName: optionalText(120),
  price: price(currency),
  kindId: optionalText(120).pipe(z.string().min(1, 'Choose the kind it is kept as.')),
  sizeMm: optionalPieceSize(),
  isMother: tick(),
  origin: optionalText(300),
  permit: optionalText(200),
  note: optionalText(),
});

/** The site as a form needs it: its clock and its currency. */
interface SiteWords {
  timeZone: string;
  currency: string | null;
}

/** A new lot, as forms and JSON bring it. A scientific name needs the name of whoever identified it. */
export const newLotSchema = ({ timeZone, currency }: SiteWords, now: Date) =>
  z
    .object({
      ...details(currency),
      pieces: whole({ what: 'how many pieces came', low: 1, high: 100_000 }),
      at: pastDayOrMoment(timeZone, now),
      scientificName: optionalText(120),
      asTyped: tick(),
      identificationQualifier: choice(QUALIFIERS, 'Choose how sure the opinion is.'),
      identifiedBy: optionalText(120),
      dateIdentified: pastDay(localDay(now, timeZone)),
      slot: many().pipe(z.array(z.uuid('Choose a slot on the rack.'))),
    })
    .refine((lot) => lot.scientificName === '' || lot.identifiedBy !== '', {
      message: 'Say who identified it.',
      path: ['identifiedBy'],
    });

type NewLotForm = z.output<ReturnType<typeof newLotSchema>>;

/** A new lot as the form brings it, in the shape that `addLot` takes. */
export function newLotOf(typed: NewLotForm, siteId: string): NewLot {
  const { at, slot, asTyped: _, price, ...named } = typed;
  const { scientificName, identificationQualifier, identifiedBy, dateIdentified, ...rest } = named;
  const opinion = { scientificName, identificationQualifier, identifiedBy, dateIdentified };
  const identification = scientificName === '' ? null : { ...opinion, identificationRemarks: '' };
  return { ...rest, priceMinor: price, siteId, arrivedAt: at, slotIds: slot, identification };
}

/** A change of a lot's details. */
export const lotEditSchema = (currency: string | null) =>
  z
    .object({
      ...details(currency),
      staysPut: tick(),
      quarantineUntil: optionalDay(),
      version: version(),
    })
    .transform(({ price, ...edit }): LotEdit => ({ ...edit, priceMinor: price }));

/** The query of the list of lots: words, a set, a group, a page. */
export const lotQuerySchema = z.object({
  q: optionalText(200).catch(''),
  only: choice(LOT_SETS, '').catch('all'),
  group: z.uuid().nullable().catch(null),
  page: pageNumber(),
});
