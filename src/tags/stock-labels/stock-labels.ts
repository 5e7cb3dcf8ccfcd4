import type pg from 'pg';
import { priceWords } from '../../platform/words/money.ts';
import { lotHref } from '../../stock/base/lot-href.ts';
import { type ListedLot, listLots } from '../../stock/lots/search.ts';
import { tickedLots } from '../../stock/lots/ticked-lots.ts';
import { lotsOfRacks } from '../../stock/places/occupants.ts';
import { slotsOfRacks } from '../../stock/places/slots.ts';
import type { Label } from '../labels/pdf.ts';
import type { LabelText } from '../labels/typesetting.rules.ts';
import type { Labelled } from './stock-labels.schema.ts';

/** What labels are for, where they lead, and whether they say a price. */
export interface StockLabels {
  what: Labelled;
  /** The service's own address. */
  base: string;
  price: boolean;
}

const sign = (text: Omit<LabelText, 'standing' | 'isSign'>): LabelText => ({
  ...text,
  standing: '',
  isSign: true,
});

/** The words on a lot's label: its own code and name, and its short code, kind and price beneath. */
function lotText({ code, ownCode, tradeName, kind, price }: ListedLot, withPrice: boolean): LabelText {
  const lines = [
    ...(ownCode === '' ? [] : [{ label: 'Code', text: code }]),
    ...(tradeName === '' ? [] : [{ label: 'Kind', text: kind }]),
    ...(withPrice && price !== null ? [{ label: 'Price', text: priceWords(price) }] : []),
  ];
  return sign({
    code: ownCode === '' ? code : ownCode,
    name: tradeName === '' ? kind : tradeName,
    lines,
    foot: '',
  });
}

const rackSigns = `
  SELECT rack.id, rack.name, tank.name AS tank, system.name AS system
    FROM unnest($1::uuid[]) WITH ORDINALITY AS asked (id, position)
    JOIN rack ON rack.id = asked.id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
   ORDER BY asked.position`;

async function lotLabels(
  pool: pg.Pool,
  lots: readonly { id: string }[],
  asked: StockLabels,
  now: Date,
): Promise<Label[]> {
  const listed = await listLots(
    pool,
    lots.map(({ id }) => id),
    now,
  );
  return listed.map((lot) => ({
    text: lotText(lot, asked.price),
    address: new URL(lotHref(lot.code), asked.base).href,
  }));
}

/** The labels of ticked lots (by their codes), in the order of the codes. */
export async function labelsOfLots(
  pool: pg.Pool,
  { siteId, codes }: { siteId: string; codes: readonly string[] },
  asked: StockLabels,
  now: Date,
): Promise<Label[]> {
  return lotLabels(pool, await tickedLots(pool, siteId, codes), asked, now);
}

/** The labels of racks: a sign each, or labels of their slots or of the lots on them, rack by rack in reading order. */
export async function labelsOfRacks(
  pool: pg.Pool,
  rackIds: readonly string[],
  asked: StockLabels,
  now: Date,
): Promise<Label[]> {
  if (asked.what === 'rack-lots') return lotLabels(pool, await lotsOfRacks(pool, rackIds), asked, now);
  if (asked.what === 'slots') {
    const slots = await slotsOfRacks(pool, rackIds);
    return slots.map(({ id, name, rackName, tankName }) => ({
      text: sign({ code: name, name: rackName, lines: [], foot: tankName }),
      address: new URL(`/slots/${id}`, asked.base).href,
    }));
  }
  const { rows } = await pool.query<{ id: string; name: string; tank: string; system: string }>(rackSigns, [
    rackIds,
  ]);
  return rows.map(({ id, name, tank, system }) => ({
    text: sign({ code: name, name: `${tank}, ${system}`, lines: [], foot: '' }),
    address: new URL(`/racks/${id}`, asked.base).href,
  }));
}
