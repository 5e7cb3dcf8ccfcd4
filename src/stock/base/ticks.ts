import { z } from 'zod';
import { Refusal } from '../../platform/refusal.ts';
import { many, optionalText } from '../../platform/web/fields.ts';
import { readCode } from './codes.ts';

/** Lots that can be ticked at once: their codes still fit into an address (own choice). */
const MOST_TICKED = 500;

/** Stands between codes in an address; it is written there as it is. */
const BETWEEN = '.';

const ticksSchema = z.object({ ticked: optionalText(20_000), lot: many(), untick: optionalText(20) });

/**
 * The codes of the lots that are ticked, by what a page was asked with: `ticked`, those of other pages in one text, and
 * `lot`, the boxes of the page itself. `untick` takes all ticks off.
 * @throws Refusal when they are too many
 */
export function ticksOf(asked: unknown): string[] {
  const parsed = ticksSchema.safeParse(asked ?? {});
  if (!parsed.success || parsed.data.untick !== '') return [];
  const { ticked, lot } = parsed.data;
  const read = [...ticked.split(BETWEEN), ...lot].map(readCode);
  const codes = new Set(read.flatMap((one) => (one.ok ? [one.code] : [])));
  if (codes.size > MOST_TICKED)
    throw new Refusal(`At most ${MOST_TICKED} lots are ticked at once. Go back and untick some.`);
  return [...codes];
}

/** Codes as one text, for an address or a hidden field. */
export const ticksText = (codes: readonly string[]): string => codes.join(BETWEEN);

/** An address of this service with ticks added to it, or taken out where there are none. */
export function withTicks(path: string, codes: readonly string[]): string {
  const here = new URL(path, 'http://here.invalid');
  for (const name of ['lot', 'ticked', 'untick']) here.searchParams.delete(name);
  if (codes.length > 0) here.searchParams.set('ticked', ticksText(codes));
  return `${here.pathname}${here.search}`;
}

/** What the bar under a list of lots needs. */
export interface TickBar {
  /** All ticked lots. */
  count: number;
  /** Those that the page does not show. */
  elsewhere: string;
  elsewhereCount: number;
  /** Where the pages of the bar lead back to. */
  back: string;
  /** The page without any tick. */
  none: string;
}

/** The bar of a page that shows some lots, at an address of its own. */
export function tickBar(codes: readonly string[], shown: readonly string[], back: string): TickBar {
  const elsewhere = codes.filter((code) => !shown.includes(code));
  return {
    count: codes.length,
    elsewhere: ticksText(elsewhere),
    elsewhereCount: elsewhere.length,
    back,
    none: withTicks(back, []),
  };
}
