import { litresNoted } from '../../platform/units/measures.ts';
import { plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { workerPool } from '../../platform/workers/pool.ts';
import { givenBack, orderSum } from '../orders/orders.rules.ts';
import type { OrderState } from '../orders/state.ts';
import { amountWords } from '../orders/view.ts';
import { METHODS } from '../shipping/shipping.schema.ts';
import type { StoredPermitLine, StoredShipment } from '../shipping/stored.ts';
import type { Paper } from './papers-pdf.ts';

/** Own choices: a paper has some pages at most. */
const setInWorker = workerPool<Paper, Uint8Array>(new URL('./paper-worker.ts', import.meta.url), {
  atOnce: 1,
  longestMs: 30_000,
  memoryMb: 256,
  tooMuch: 'This order is too long for one paper. Split it.',
});

/** The PDF of a paper, set in a thread of its own. */
export async function printPaper(paper: Paper): Promise<Buffer> {
  const parts: Uint8Array[] = [];
  await setInWorker(paper, (part) => parts.push(part));
  return Buffer.concat(parts);
}

/** The farm and the day of a paper. */
export interface PaperOf {
  farm: string;
  at: Date;
  timeZone: string;
}

const nameOf = ({ species, tradeName }: OrderState['lines'][number]) =>
  tradeName === '' ? species : `${tradeName}, ${species}`;

const headOf = (order: OrderState, { farm, at, timeZone }: PaperOf) => ({
  from: [farm],
  to: [order.buyer, ...order.contact.split('\n')].filter((line) => line.trim() !== ''),
  facts: [
    { label: 'Order', text: String(order.number) },
    { label: 'Day', text: dateWords(at, timeZone) },
  ],
});

/** What is paid: no tax is worked out, the farm's own line says what else there is. Pieces without a price are named. */
export function receiptOf(order: OrderState, of: PaperOf): Paper {
  const { currency, freeLine, freeLineMinor, lines } = order;
  const words = (minor: number | null) => amountWords(minor, currency) || 'no price';
  const { minor, unpriced } = orderSum(lines, freeLineMinor);
  const back = givenBack(lines);
  return {
    title: 'Receipt',
    ...headOf(order, of),
    columns: [
      { text: 'Lot', share: 16 },
      { text: 'What', share: 44 },
      { text: 'Pieces', share: 10, isRight: true },
      { text: 'Price', share: 15, isRight: true },
      { text: 'Amount', share: 15, isRight: true },
    ],
    rows: lines.map((line) => [
      line.called,
      nameOf(line),
      String(line.pieces),
      words(line.priceMinor),
      line.priceMinor === null ? '' : words(line.priceMinor * line.pieces),
    ]),
    sums: [
      ...(freeLine === ''
        ? []
        : [{ label: freeLine, text: freeLineMinor === null ? '' : words(freeLineMinor) }]),
      ...(back.pieces === 0
        ? []
        : [
            {
              label: `${plural(back.pieces, 'piece', 'pieces')} back or written off`,
              text: `- ${words(back.minor)}`,
            },
          ]),
      { label: 'Sum', text: currency === null ? 'no currency chosen' : words(minor - back.minor) },
    ],
    notes:
      unpriced === 0 ? [] : [`${plural(unpriced, 'piece', 'pieces')} without a price are not in the sum.`],
  };
}

/** What lies in the box, with its permit lines. */
export function packingListOf(
  order: OrderState,
  of: PaperOf,
  { box, permit }: { box: StoredShipment | null; permit: readonly StoredPermitLine[] },
): Paper {
  const { lines } = order;
  const pieces = lines.reduce((sum, line) => sum + line.pieces, 0);
  const facts =
    box === null
      ? []
      : [
          { label: 'Packed', text: METHODS.find(({ value }) => value === box.method)?.text ?? box.method },
          ...(box.bags === null || box.litresABag === null
            ? []
            : [{ label: 'Bags', text: `${box.bags} with ${litresNoted(box.litresABag)} each` }]),
          ...(box.carrier === '' ? [] : [{ label: 'Carrier', text: box.carrier }]),
        ];
  const head = headOf(order, of);
  return {
    title: 'Packing list',
    ...{ ...head, facts: [...head.facts, ...facts] },
    columns: [
      { text: 'Lot', share: 18 },
      { text: 'Species', share: 44 },
      { text: 'Sold as', share: 26 },
      { text: 'Pieces', share: 12, isRight: true },
    ],
    rows: lines.map((line) => [line.called, line.species, line.tradeName, String(line.pieces)]),
    sums: [{ label: 'All pieces', text: String(pieces) }],
    notes: [
      ...permit.map(
        (line) =>
          `Permit ${line.document}: ${line.species}, ${plural(line.pieces, 'piece', 'pieces')}, source ${line.sourceCode}`,
      ),
      'Live animals. Keep out of the sun and from frost; open at once.',
    ],
  };
}
