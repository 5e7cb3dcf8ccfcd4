import type { OrderStage } from '../../generated/prisma/enums.ts';

/** Stages in the order in which an order passes them; the last two are ends apart. */
export const STAGES = ['asked', 'held', 'packed', 'gone', 'settled', 'returned', 'cancelled'] as const;

/** Each stage as a person reads it. */
export const STAGE_WORDS: Readonly<Record<OrderStage, string>> = {
  asked: 'Requested',
  held: 'Held',
  packed: 'Packed',
  gone: 'Sent',
  settled: 'Paid',
  returned: 'Returned',
  cancelled: 'Cancelled',
};

/** What each stage is, for the list. */
export const isOpenStage = (stage: OrderStage): boolean =>
  stage === 'asked' || stage === 'held' || stage === 'packed';

/** Where each stage leads, and whether a reason is asked for. */
const WAYS: Readonly<Record<OrderStage, Partial<Record<OrderStage, 'plain' | 'reason'>>>> = {
  asked: { held: 'plain', cancelled: 'reason' },
  held: { packed: 'plain', gone: 'plain', asked: 'reason', cancelled: 'reason' },
  packed: { gone: 'plain', held: 'reason', cancelled: 'reason' },
  gone: { settled: 'plain', returned: 'reason', packed: 'reason' },
  settled: { returned: 'reason', gone: 'reason' },
  returned: {},
  cancelled: { asked: 'reason' },
};

/** The stages to which an order can go, and which of them ask why. */
export const waysFrom = (stage: OrderStage): { stage: OrderStage; asksWhy: boolean }[] =>
  STAGES.flatMap((to) => {
    const way = WAYS[stage][to];
    return way === undefined ? [] : [{ stage: to, asksWhy: way === 'reason' }];
  });

/** Why an order cannot go from one stage to another; '' where it can. */
export function stageRefusal(from: OrderStage, to: OrderStage, reason: string): string {
  const way = WAYS[from][to];
  if (way === undefined) {
    if (from === 'returned')
      return 'This order was returned and stays so. Make a new order for what is sent again, and take in what comes back later as a lot of its own.';
    return from === to
      ? `This order is “${STAGE_WORDS[from]}” already.`
      : `An order that is “${STAGE_WORDS[from]}” cannot become “${STAGE_WORDS[to]}” in one step.`;
  }
  return way === 'reason' && reason === '' ? 'Say why.' : '';
}

/** One line of an order as its sum sees it. */
export interface PricedLine {
  readonly pieces: number;
  readonly priceMinor: number | null;
}

/** What came back of an order or was written off: pieces, and what they were sold for in minor units. */
export function givenBack(
  lines: readonly (PricedLine & { backPieces: number; writtenOffPieces: number })[],
): { pieces: number; minor: number } {
  const back = lines.map(({ backPieces, writtenOffPieces, priceMinor }) => {
    const pieces = backPieces + writtenOffPieces;
    return { pieces, minor: pieces * (priceMinor ?? 0) };
  });
  return {
    pieces: back.reduce((sum, { pieces }) => sum + pieces, 0),
    minor: back.reduce((sum, { minor }) => sum + minor, 0),
  };
}

/** What an order comes to, in minor units; `unpriced` are pieces that nobody priced and that are not in it. */
export function orderSum(
  lines: readonly PricedLine[],
  freeLineMinor: number | null,
): { minor: number; unpriced: number } {
  return {
    minor: lines.reduce(
      (sum, { pieces, priceMinor }) => sum + pieces * (priceMinor ?? 0),
      freeLineMinor ?? 0,
    ),
    unpriced: lines.reduce((sum, { pieces, priceMinor }) => sum + (priceMinor === null ? pieces : 0), 0),
  };
}
