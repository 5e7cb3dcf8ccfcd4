import { mmWords } from '../../platform/units/measures.ts';
import { priceWords } from '../../platform/words/money.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dateWords, whenWords } from '../../platform/words/times.ts';
import { placeDrawing } from '../places/place-drawing.ts';
import { isReady, type Readiness } from '../sales/readiness.ts';
import type { LotRecord } from './record.ts';

/** The head of a lot's page: its photo or drawing, three figures, and where it is, how it does, whether it can be sold. */
export function portrait(record: LotRecord, timeZone: string, now: Date) {
  const { lot, listing, photos, readiness, placeConditions } = record;
  const { face, drawn, lastLook, price } = listing;
  const newest = photos[0];
  return {
    face,
    photo: newest === undefined ? null : { ...newest, on: dateWords(newest.takenAt, timeZone) },
    pieces: { id: lot.id, value: lot.pieces, unit: lot.pieces === 1 ? 'piece' : 'pieces' },
    held: readiness === null || readiness.held === 0 ? '' : numberWords(readiness.held),
    size: lot.sizeMm === null ? '' : mmWords(lot.sizeMm),
    price: price === null ? '' : priceWords(price),
    place:
      drawn === null
        ? null
        : {
            drawing: placeDrawing(drawn),
            text: listing.place,
            href: `/racks/${listing.rackId}`,
            tank: placeConditions?.tankName ?? '',
          },
    look: lastLook === null ? null : { ...lastLook, at: whenWords(lastLook.at, timeZone, now) },
    sale: readiness === null ? null : saleWords(readiness),
  };
}

/** Whether it can be sold; of what speaks against it, the first, and how much more there is. */
function saleWords(readiness: Readiness): { title: string; text: string } {
  const { reasons } = readiness;
  if (isReady(readiness)) return { title: 'Ready to sell', text: '' };
  const more = reasons.length > 1 ? ` And ${numberWords(reasons.length - 1)} more.` : '';
  return { title: 'Not ready to sell', text: `${reasons[0]?.text ?? ''}${more}` };
}
