import { lotFlowWords } from '../../farm/racks/words.ts';
import { mmWords } from '../../platform/units/measures.ts';
import type { Figure } from '../../platform/words/figures.ts';
import { priceWords } from '../../platform/words/money.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { lotHref } from '../base/lot-href.ts';
import { accustomedWords, lightFigure } from '../light/words.ts';
import { type LotRecord, shownChildren } from './record.ts';

/** One line of the facts, as the partial `facts` takes it. */
export interface RecordFact {
  label: string;
  text: string;
  unit: string;
  href: string;
  small: string;
  /** What the text says. */
  figures: Figure[];
}

const fact = (label: string, text: string, more: Partial<RecordFact> = {}): RecordFact => ({
  label,
  text,
  unit: '',
  href: '',
  small: '',
  figures: [],
  ...more,
});

const BASES: Readonly<Record<string, string>> = { egg_crate: 'egg-crate', rock: 'rock', sand: 'sand' };

/** What the lot is and where it came from. */
export function originFacts({ lot, listing, children }: LotRecord, timeZone: string): RecordFact[] {
  const { kind, parent, cutInto } = lot;
  const { price } = listing;
  const since = dateWords(lot.arrivedAt, timeZone);
  const more = children.length > shownChildren ? ' and earlier ones' : '';
  const out = `${children
    .slice(0, shownChildren)
    .map(({ code }) => code)
    .join(', ')}${more}`;
  return [
    ...(lot.tradeName === '' ? [] : [fact('Sold as', lot.tradeName)]),
    fact('Type of coral', kind.name, {
      href: `/kinds/${kind.code}`,
      small: kind.parent === null ? '' : `of the ${kind.parent.name.toLowerCase()}`,
    }),
    ...(kind.alsoCalled.length === 0 ? [] : [fact('Also called', kind.alsoCalled.join(', '))]),
    fact('Pieces', plural(lot.pieces, 'piece', 'pieces'), {
      figures: [
        { name: 'stock.pieces', of: lot.id, value: lot.pieces, text: plural(lot.pieces, 'piece', 'pieces') },
      ],
      small: lot.isMother ? 'a mother, cut from' : '',
    }),
    lot.sizeMm === null
      ? fact('Size', 'not measured')
      : fact('Size', mmWords(lot.sizeMm), { unit: 'a piece' }),
    ...(price === null ? [] : [fact('Price of a piece', priceWords(price))]),
    ...(parent === null
      ? []
      : [
          fact(cutInto === null ? 'Came out of' : 'Cut from', parent.code, {
            href: lotHref(parent.code),
            small: cutInto === null ? '' : `on ${dateWords(cutInto.at, timeZone)}`,
          }),
        ]),
    fact(cutInto === null ? 'With us since' : 'A lot since', since),
    fact('Origin', lot.origin === '' ? 'not recorded' : lot.origin),
    fact('Permit, source', lot.permit === '' ? 'not recorded' : lot.permit),
    ...(lot.quarantineUntil === null
      ? []
      : [fact('Kept apart until', dateWords(lot.quarantineUntil.toISOString().slice(0, 10), timeZone))]),
    ...(lot.staysPut ? [fact('When moves are planned', 'stays in its place')] : []),
    ...(out === '' ? [] : [fact('Made of it', out)]),
    ...(lot.note === '' ? [] : [fact('Note', lot.note)]),
  ];
}

function againstAccustomed(dli: number, accustomed: number): string {
  const ratio = dli / accustomed;
  if (!Number.isFinite(ratio) || Math.abs(ratio - 1) < 0.05) return 'about what it gets now';
  return `it gets ${numberWords(ratio, 2)} times that now`;
}

function lightFacts({ lot, light, care, acclimation }: LotRecord, at: Date): RecordFact[] {
  const { now } = light;
  const used = accustomedWords(lot.id, light, care.adaptation_days?.high ?? null, at);
  const figure = now === null ? null : lightFigure(lot.id, now);
  return [
    fact('Light now', figure?.text ?? 'not measured at its place', {
      small:
        now === null || now.parMax - now.par < 1 ? '' : `up to ${numberWords(now.parMax, 0)} in its slots`,
      figures: figure === null ? [] : [figure],
    }),
    fact('Used to now', used.text, {
      small:
        used.figure === null || light.accustomed === null || now === null
          ? ''
          : againstAccustomed(now.dli, light.accustomed),
      figures: used.figure === null ? [] : [used.figure],
    }),
    ...(acclimation === null
      ? []
      : [
          fact('In acclimation', acclimation.name, {
            href: `/stock/acclimations/${acclimation.id}`,
            small: acclimation.pausedAt === null ? '' : 'paused',
          }),
        ]),
  ];
}

/** Where the lot stands, with light, flow and base there. */
export function placeFacts(record: LotRecord, now: Date): RecordFact[] {
  const { listing, placeConditions } = record;
  if (placeConditions === null) return [fact('Place', 'on no rack'), ...lightFacts(record, now)];
  const small = `${placeConditions.tankName}, ${listing.systemName}`;
  const flow = lotFlowWords(placeConditions.flows);
  return [
    fact('Place', listing.place, { href: `/racks/${listing.rackId}`, small }),
    ...lightFacts(record, now),
    fact('Flow', flow, {
      figures: [{ name: 'lot.flow', of: record.lot.id, value: flow, text: flow }],
      small: placeConditions.jet ? 'a jet strikes it steadily' : '',
    }),
    fact('On', placeConditions.bases.map((base) => BASES[base] ?? base).join(', ')),
  ];
}
