import { z } from 'zod';
import { localDay } from '../../platform/days.ts';
import {
  choice,
  chosen,
  many,
  optionalDay,
  optionalNumber,
  optionalText,
  tick,
  version,
  whole,
} from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { pastDay } from './identifications.schema.ts';
import { QUALIFIERS } from './identifications.ts';
import type { NewLot } from './lots.ts';
import { LOT_SETS } from './search.ts';

const details = {
  kindId: chosen('Choose the kind it is kept as.'),
  sizeMm: optionalNumber({ what: 'the size', low: 1, high: 2000, unit: 'mm' }).pipe(
    z.number().int('Enter whole millimetres.').nullable(),
  ),
  isMother: tick(),
  origin: optionalText(300),
  permit: optionalText(200),
  note: optionalText(),
};

/** A new lot, as forms and JSON bring it. A scientific name needs the name of whoever identified it. */
export const newLotSchema = (timeZone: string, now: Date) =>
  z
    .object({
      ...details,
      pieces: whole({ what: 'how many pieces came', low: 1, high: 100_000 }),
      at: pastMoment(timeZone, now),
      scientificName: optionalText(120),
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
  const { at, slot, scientificName, identificationQualifier, identifiedBy, dateIdentified, ...rest } = typed;
  const opinion = { scientificName, identificationQualifier, identifiedBy, dateIdentified };
  const identification = scientificName === '' ? null : { ...opinion, identificationRemarks: '' };
  return { ...rest, siteId, arrivedAt: at, slotIds: slot, identification };
}

/** A change of a lot's details. */
export const lotEditSchema = z.object({
  ...details,
  staysPut: tick(),
  quarantineUntil: optionalDay(),
  version: version(),
});

/** The query of the list of lots: words, a set, a group, a page. */
export const lotQuerySchema = z.object({
  q: optionalText(200).catch(''),
  only: choice(LOT_SETS, '').catch('all'),
  group: z.uuid().nullable().catch(null),
  page: z.coerce.number().int().min(1).max(100_000).catch(1),
});
