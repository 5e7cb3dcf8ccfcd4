import type { FormState } from '../../platform/web/forms.ts';
import { plural } from '../../platform/words/numbers.ts';
import { lotHref } from '../base/lot-href.ts';
import { placeDrawing } from '../places/place-drawing.ts';
import { type Again, type CountState, type Reason, reasonsFor } from './counts.rules.ts';
import { askedOf } from './differences.ts';
import { type CountedRack, progressOf, type Stocktake, type StocktakeLot } from './state.ts';
import { FOUND_ROWS } from './stocktakes.schema.ts';

export const stocktakeHref = (id: string) => `/stock/stocktakes/${id}`;

/** What a difference was, as a choice. */
export const reasonWords: Readonly<Record<Reason, { text: string; hint: string }>> = {
  lost: { text: 'Lost', hint: 'died, broke or is missing; say the cause' },
  sold: { text: 'Sold without an entry', hint: 'an order is made of it, gone at once' },
  miscounted: { text: 'Miscounted before', hint: 'the records were wrong' },
  found: { text: 'Found again', hint: 'overlooked before' },
  received: { text: 'Received without an entry', hint: 'more pieces of the same origin' },
  moved: { text: 'Moved without an entry', hint: 'all of it is here now' },
  split: { text: 'Part of it moved', hint: 'these pieces become a lot of their own here' },
  noted: { text: 'Noted only', hint: 'no lot is changed' },
};

const againWords: Readonly<Record<Again, string>> = {
  much: 'differs by much: count it again',
  second: 'wants a second person’s count',
  disagree: 'two counts differ: count it again',
};

/** Whether what the records say may be shown beside a lot. */
const isShown = (is: CountState, hidden: boolean) => !hidden || !['open', 'again'].includes(is.state);

const signed = (n: number) => (n > 0 ? `+${n}` : `−${Math.abs(n)}`);

/** What is said of one lot: "12 counted, 14 recorded". */
export function saidOf(
  { is, counts, reason, note }: StocktakeLot,
  hidden: boolean,
  isClosed: boolean,
): string {
  const last = counts.at(-1);
  if (is.state === 'open' || last === undefined) return isClosed ? 'not counted' : 'to count';
  const counted = `${last.pieces} counted`;
  if (is.state === 'again') {
    const shown = isShown(is, hidden) || isClosed ? `, ${last.expected} recorded` : '';
    return `${counted}${shown}; ${isClosed ? 'not counted again' : againWords[is.why]}`;
  }
  if (is.state === 'right') return `${counted}, as recorded`;
  const differs = `${counted}, ${last.expected} recorded`;
  if (is.state === 'differs') return isClosed ? `${differs}; not settled` : differs;
  const why = reason === null ? '' : reasonWords[reason].text.toLowerCase();
  if (last.pieces === last.expected)
    return `${counted}, as recorded since it was settled: ${why}${note === '' ? '' : `, ${note}`}`;
  return `${differs}: ${why}${note === '' ? '' : `, ${note}`}`;
}

const marks = { open: '', again: 'today', differs: 'today', right: '', settled: '' } as const;

/** A lot of a stocktake as a line. */
export function lotLine(lot: StocktakeLot, rack: CountedRack, { hidden, closedAt }: Stocktake) {
  const { lotId, lineId, is, code, ownCode, kind, cells, slots, foundAs, pieces } = lot;
  const shown = isShown(is, hidden) && closedAt === null && lot.standsHere;
  return {
    ...{ lotId, lineId, kind, slots, foundAs, state: is.state },
    name: ownCode || code || `“${foundAs}”`,
    href: code === '' ? '' : lotHref(code),
    place: placeDrawing({ rows: rack.rows, columns: rack.columns, cells }),
    field: lotId === null ? '' : `n_${lotId}`,
    recorded: shown ? `${pieces} recorded` : '',
    said: saidOf(lot, hidden, closedAt !== null),
    mark: marks[is.state],
    isCounted: lot.counts.length > 0,
    counts: lot.counts.map(({ pieces: counted, at, by }) => ({ counted, at, by })),
  };
}

/** One tap that settles a difference, as a small form. */
interface Tap {
  as: Reason;
  text: string;
  cause: string;
  slot: string;
}

/** A difference with its one-tap answers. `freeSlot`: the first free slot of its rack. */
export function differenceRow(
  lot: StocktakeLot,
  rack: CountedRack,
  stocktake: Stocktake,
  freeSlot: { id: string; name: string } | undefined,
) {
  const difference = lot.is.state === 'open' ? 0 : lot.is.difference;
  const reasons = reasonsFor(askedOf(lot));
  const tap = (as: Reason, text: string, cause = '', slot = ''): Tap => ({ as, text, cause, slot });
  const taps: Tap[] = [
    ...(reasons.includes('lost') ? [tap('lost', 'Missing', 'astray')] : []),
    ...(reasons.includes('found') ? [tap('found', 'Found again')] : []),
    ...(reasons.includes('miscounted') ? [tap('miscounted', 'Miscounted before')] : []),
    ...(reasons[0] === 'moved' && freeSlot !== undefined
      ? [tap('moved', `Moved here, to ${freeSlot.name}`, '', freeSlot.id)]
      : []),
    ...(reasons[0] === 'noted' ? [tap('noted', 'Noted only')] : []),
  ];
  const packed =
    lot.packed > 0 && difference < 0
      ? `${plural(lot.packed, 'piece lies', 'pieces lie')} packed for an order: see whether they were counted`
      : '';
  const stands =
    lot.standsHere || lot.lotId === null
      ? ''
      : lot.standsOn === null
        ? 'has no slot by the records'
        : `on ${lot.standsOn} by the records`;
  return {
    ...lotLine(lot, rack, stocktake),
    rack: rack.name,
    difference,
    change: difference > 0 ? `${difference} more` : `${-difference} fewer`,
    signed: signed(difference),
    notes: [stands, packed].filter((one) => one !== ''),
    taps,
  };
}

/** A rack with how far it is: "4 of 9 lots counted". */
export function rackLine(rack: CountedRack, lots: readonly StocktakeLot[], { id, closedAt }: Stocktake) {
  const { all, left, again, differ } = progressOf(lots);
  const counted = all - (left - again);
  const parts = [
    `${counted} of ${plural(all, 'lot', 'lots')} counted`,
    ...(again === 0 ? [] : [`${again} to count again`]),
    ...(differ === 0 ? [] : [`${plural(differ, 'difference', 'differences')}`]),
  ];
  return {
    ...{ id: rack.id, name: rack.name, place: `${rack.tank}, ${rack.system}` },
    href: closedAt === null ? `${stocktakeHref(id)}/racks/${rack.id}` : '',
    words: parts.join(', '),
    done: left === 0,
    begun: counted > 0,
  };
}

/** The fields of a rack's form: a number for each lot, in the order of the shelf, and what is found besides. */
export function countForm(
  lots: readonly StocktakeLot[],
  rack: CountedRack,
  stocktake: Stocktake,
  form: FormState,
) {
  const value = (name: string) => String(form.typed[name] ?? '');
  const errorOf = (name: string) => form.errors.find(({ field }) => field === name)?.message ?? '';
  return {
    lots: lots
      .filter(({ lotId, standsHere }) => lotId !== null && standsHere)
      .map((lot) => {
        const line = lotLine(lot, rack, stocktake);
        return { ...line, value: value(line.field), error: errorOf(line.field) };
      }),
    foundBefore: lots.filter(({ standsHere }) => !standsHere).map((lot) => lotLine(lot, rack, stocktake)),
    found: FOUND_ROWS.map((row) => ({
      row,
      ...{ as: `found_${row}`, asValue: value(`found_${row}`), asError: errorOf(`found_${row}`) },
      ...{
        pieces: `foundPieces_${row}`,
        piecesValue: value(`foundPieces_${row}`),
        piecesError: errorOf(`foundPieces_${row}`),
      },
    })),
  };
}
