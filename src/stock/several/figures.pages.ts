import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { mmWords } from '../../platform/units/measures.ts';
import { optionalPieceSize } from '../../platform/web/fields/measures.ts';
import { priceOf, priceWords } from '../../platform/words/money.ts';
import { plural } from '../../platform/words/numbers.ts';
import { type FigureChange, setFigures } from '../lots/figures.ts';
import { price } from '../lots/lots.schema.ts';
import type { TickedLot } from '../lots/ticked-lots.ts';
import { type Outcome, type SeveralForm, severalForm } from './several-form.ts';

/** The price and the size of several lots. */
export function figurePages(app: FastifyInstance, service: Service): void {
  severalForm(app, service, priceForm);
  severalForm(app, service, sizeForm);
}

/** What one figure becomes on each lot; `next` is null while none is entered. */
function becomes(
  lots: readonly TickedLot[],
  now: (lot: TickedLot) => number | null,
  next: number | null,
  words: (value: number) => string,
): Outcome[] {
  const said = (value: number | null) => (value === null ? 'not set' : words(value));
  return lots.map((lot) => {
    const is = now(lot);
    if (next === null) return { refused: '', words: `Now ${said(is)}` };
    if (is === next) return { refused: `It is ${said(is)} already.`, words: '' };
    return { refused: '', words: `From ${said(is)} to ${said(next)}` };
  });
}

const changesOf = (lots: readonly TickedLot[], after: FigureChange['after']): FigureChange[] =>
  lots.map(({ id, code, sizeMm, priceMinor }) => ({ id, code, before: { sizeMm, priceMinor }, after }));

const priceSchema = (currency: string | null) =>
  z.object({ price: price(currency).pipe(z.number({ error: 'Enter the price of one piece.' })) });

const priceForm: SeveralForm<ReturnType<typeof priceSchema>> = {
  path: '/stock/several/price',
  view: 'stock/several-price',
  area: 'stock',
  title: (count) => `Price of ${plural(count, 'lot', 'lots')}`,
  button: 'Set the price',
  schema: ({ site }) => priceSchema(site.currency),
  fresh: () => ({ price: '' }),
  data: ({ request }) => ({ currency: request.site.currency }),
  outcomes: ({ request }, _, lots, value) => {
    const { currency } = request.site;
    const words = (minor: number) => {
      const known = priceOf(minor, currency);
      return known === null ? String(minor) : priceWords(known);
    };
    return becomes(lots, (lot) => lot.priceMinor, value?.price ?? null, words);
  },
  over: ({ priceMinor }) => priceMinor,
  act: (work, _, lots, value) => setFigures(work, changesOf(lots, { priceMinor: value.price })),
  done: (_, count) => ({ notice: `The price of ${plural(count, 'lot', 'lots')} is set.` }),
};

const sizeSchema = z.object({
  sizeMm: optionalPieceSize().pipe(z.number({ error: 'Enter the size of a piece.' })),
});

const sizeForm: SeveralForm<typeof sizeSchema> = {
  path: '/stock/several/size',
  view: 'stock/several-size',
  area: 'stock',
  title: (count) => `Size of ${plural(count, 'lot', 'lots')}`,
  button: 'Set the size',
  schema: () => sizeSchema,
  fresh: () => ({ sizeMm: '' }),
  outcomes: (_, __, lots, value) => becomes(lots, (lot) => lot.sizeMm, value?.sizeMm ?? null, mmWords),
  over: ({ sizeMm }) => sizeMm,
  act: (work, _, lots, value) => setFigures(work, changesOf(lots, { sizeMm: value.sizeMm })),
  done: (_, count) => ({ notice: `The size of ${plural(count, 'lot', 'lots')} is set.` }),
};
