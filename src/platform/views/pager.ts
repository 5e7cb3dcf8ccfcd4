import { numberWords } from '../words/numbers.ts';

/** The way to the pages before and after one of a long list, for the partial `pager`. */
export interface Pager<Way> {
  newer: Way | '';
  older: Way | '';
  /** "1 to 50 of 1,148" */
  text: string;
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
