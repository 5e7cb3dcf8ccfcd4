import { numberWords } from '../words/numbers.ts';

/** The way to the pages before and after one of a long list, for the partial `pager`. */
export interface Pager<Way> {
  newer: Way | '';
  older: Way | '';
  /** "1 to 50 of 1,148" */
  text: string;
}

/** Things of a list on one page, where a page has no reason for another number (own choice: some screens of a phone). */
const usualPerPage = 25;

/** The part of a list that a page shows, with the way to the others; beyond the last page it is the last. */
export function pageOfList<T>(
  all: readonly T[],
  { page, perPage = usualPerPage }: { page: number; perPage?: number },
  hrefOf: (page: number) => string,
): { some: T[]; pager: Pager<string> } {
  const shown = Math.max(1, Math.min(page, Math.ceil(all.length / perPage)));
  const from = (shown - 1) * perPage;
  return {
    some: all.slice(from, from + perPage),
    pager: pagerOf({ page: shown, perPage, total: all.length }, hrefOf),
  };
}

/** @param wayTo what leads to a page, by its number from 1: an address, or the number that a form sends */
export function pagerOf<Way>(
  { page, perPage, total }: { page: number; perPage: number; total: number },
  wayTo: (page: number) => Way,
): Pager<Way> {
  const begin = (page - 1) * perPage;
  const end = Math.min(begin + perPage, total);
  const text =
    begin < end
      ? `${numberWords(begin + 1)} to ${numberWords(end)} of ${numberWords(total)}`
      : `none of ${numberWords(total)}`;
  return {
    newer: page > 1 ? wayTo(page - 1) : '',
    older: end < total && begin < end ? wayTo(page + 1) : '',
    text,
  };
}
