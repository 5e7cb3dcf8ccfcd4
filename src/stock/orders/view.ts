import type { FastifyReply } from 'fastify';
import type { FormState } from '../../platform/web/forms.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { priceOf, priceWords } from '../../platform/words/money.ts';
import { plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { lotHref } from '../base/lot-href.ts';
import { givenBack, isOpenStage, orderSum, STAGE_WORDS, STAGES } from './orders.rules.ts';
import type { ListedOrder, OrderLineState, OrderState } from './state.ts';

export const orderHref = (id: string) => `/stock/orders/${id}`;

/** An amount in an order's currency; '' where it has none. */
export function amountWords(minor: number | null, currency: string | null): string {
  const amount = priceOf(minor, currency);
  return amount === null ? '' : priceWords(amount);
}

/** "EUR 62.00, 2 pieces without a price"; no amount where nothing has a price yet. */
export function sumWords(
  { minor, unpriced }: { minor: number; unpriced: number },
  currency: string | null,
): string {
  const without = unpriced > 0 ? `${plural(unpriced, 'piece', 'pieces')} without a price` : '';
  if (currency === null || (minor === 0 && unpriced > 0)) return without;
  return [amountWords(minor, currency), without].filter((part) => part !== '').join(', ');
}

/** A line of an order as its page shows it. */
export function lineView(line: OrderLineState, { currency, stage }: OrderState) {
  const { priceMinor, pieces, promised, there } = line;
  const short = isOpenStage(stage) && stage !== 'asked' && promised > there;
  return {
    ...line,
    href: lotHref(line.code),
    price: amountWords(priceMinor, currency),
    amount: amountWords(priceMinor === null ? null : priceMinor * pieces, currency),
    short: short ? `${promised} are promised and ${there} are left: some were lost since.` : '',
    backHref: line.backCode === null ? '' : lotHref(line.backCode),
  };
}

/** The stages an order has passed and has before it, in order; where it ended apart, that end alone. */
export function stepsOf({ stage }: OrderState) {
  const way = STAGES.filter((one) => one !== 'returned' && one !== 'cancelled');
  const here = way.indexOf(stage as (typeof way)[number]);
  if (here < 0) return [{ text: STAGE_WORDS[stage], current: true, done: false }];
  return way.map((one, i) => ({ text: STAGE_WORDS[one], current: i === here, done: i <= here }));
}

/** "1 piece back or written off, EUR 10.00; EUR 30.00 stays"; '' where nothing is. */
function backWords({ lines, currency }: OrderState, minor: number): string {
  const back = givenBack(lines);
  if (back.pieces === 0) return '';
  const gone = `${plural(back.pieces, 'piece', 'pieces')} back or written off`;
  return currency === null || back.minor === 0
    ? gone
    : `${gone}, ${amountWords(back.minor, currency)}; ${amountWords(minor - back.minor, currency)} stays`;
}

/** An order's head: what it comes to, in words. */
export function headOf(order: OrderState) {
  const pieces = order.lines.reduce((sum, line) => sum + line.pieces, 0);
  const total = orderSum(order.lines, order.freeLineMinor);
  return {
    pieces: plural(pieces, 'piece', 'pieces'),
    lots: plural(order.lines.length, 'lot', 'lots'),
    sum: sumWords(total, order.currency),
    back: backWords(order, total.minor),
    stageWords: STAGE_WORDS[order.stage],
    isOpen: isOpenStage(order.stage),
  };
}

/** An order in the list of orders. */
export function rowOf(order: ListedOrder, today: string, timeZone: string) {
  const { minor, unpriced, currency } = order;
  return {
    ...order,
    href: orderHref(order.id),
    stageWords: STAGE_WORDS[order.stage],
    what: `${plural(order.pieces, 'piece', 'pieces')} of ${plural(order.lots, 'lot', 'lots')}`,
    sum: sumWords({ minor: minor ?? 0, unpriced }, currency),
    untilWords:
      order.stage === 'held' && order.until >= today ? `until ${dateWords(order.until, timeZone)}` : '',
    // A hold that ended by itself is said where the order is listed, until somebody decides.
    ended: order.stage === 'asked' && order.by === null && order.reason !== '' ? order.reason : '',
  };
}

/** A refused form of an order, to be sent again against the order as it is now. */
export const againOf = (
  refused: FormState | undefined,
  reply: FastifyReply,
  { version }: Pick<OrderState, 'version'>,
): FormState | undefined =>
  refused === undefined ? undefined : afterStale(refused, reply, { version }, '').form;
