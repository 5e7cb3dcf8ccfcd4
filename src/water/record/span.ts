import { dayMs, dayOf } from '../../science/numeric/time.ts';

/** Days of history the rules are told of a quantity, where they ask for more than `usual`. */
const asked: Readonly<Record<string, number>> = {
  // The own level of the creep rule remembers 150 days, after a warm-up.
  nitrate: 400,
  // The own spread of the swing rule; a season of demand.
  alkalinity: 200,
  calcium: 200,
  magnesium: 200,
  // A season of what feeding brings.
  phosphate: 200,
};
const usual = 150;

/** The longest history of all; what is rare (water changes, looks at lots) is told as far back as this. */
export const longestDays = 400;

/** How far back the rules look at readings and doses of a quantity, days. */
export const historyDays = (quantityCode: string | null): number => asked[quantityCode ?? ''] ?? usual;

/** For which moments facts are loaded: `from` the earliest that is judged up to `now`; the same unless the past is. */
export interface Span {
  from: Date;
  now: Date;
}

/**
 * The midnight (UTC) `days` before the span begins, or a little earlier: where history begins stays the same all day, so
 * that what was loaded in the morning holds in the evening.
 */
export const before = ({ from }: Span, days: number): Date =>
  new Date(Math.floor(dayOf(from) - days) * dayMs);

/** The same as SQL takes it: exceptions by quantity, and what holds for all others. */
export function historySince(span: Span): { codes: string[]; since: Date[]; usual: Date } {
  const codes = Object.keys(asked);
  return { codes, since: codes.map((code) => before(span, historyDays(code))), usual: before(span, usual) };
}
