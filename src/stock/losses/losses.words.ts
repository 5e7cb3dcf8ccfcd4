import { numberWords, plural } from '../../platform/words/numbers.ts';
import { lotHref } from '../base/lot-href.ts';
import { causeWords } from './causes.rules.ts';
import type { CauseTotal, Loss } from './losses.ts';
import { isAboveUsual, type LossesJudged } from './usual.rules.ts';

/** A share as people read it: "4 %", "0.8 %". */
export const shareWords = (share: number): string =>
  `${numberWords(100 * share, share > 0 && share < 0.1 ? 1 : 0)} %`;

/** From this chance on it is called more than usual; the alert asks for more (own choice). */
const clear = 0.01;
/** Below this chance it is not called usual (the customary 0.05). */
const doubtful = 0.05;

const verdictOf = (one: LossesJudged): { text: string; severity: 'today' | null } => {
  if (one.lots === 0) return { text: 'No lots', severity: null };
  if (one.p === null) return { text: 'Not known yet', severity: null };
  if (isAboveUsual(one, clear)) return { text: 'More than usual', severity: 'today' };
  // So few lots are no finding, but what chance hardly brings is not called usual either.
  if (one.p < doubtful) return { text: 'Perhaps more than usual', severity: null };
  return { text: 'As usual', severity: null };
};

/** One line for each system, and one beneath for each kind that lost pieces. */
export function usualRows(judged: readonly { name: string; all: LossesJudged; kinds: LossesJudged[] }[]) {
  return judged.flatMap(({ name, all, kinds }) => [
    rowOf(name, false, all),
    ...kinds.filter(({ losing }) => losing > 0).map((kind) => rowOf(kind.kindName, true, kind)),
  ]);
}

const rowOf = (name: string, isKind: boolean, one: LossesJudged) => ({
  name,
  isKind,
  now: one.lots === 0 ? 'no lots' : `${numberWords(one.losing)} of ${plural(one.lots, 'lot', 'lots')}`,
  usual:
    one.usual === null
      ? 'not known'
      : `${shareWords(one.usual.share)} (${shareWords(one.usual.low)} to ${shareWords(one.usual.high)})`,
  base:
    one.pastLots === 0
      ? 'no earlier two weeks'
      : `${numberWords(one.pastLosing)} of ${numberWords(one.pastLots)} in ${plural(one.windows, 'stretch', 'stretches')} of two weeks`,
  verdict: verdictOf(one),
});

/** Pieces and losses by cause, the most pieces first, with what they are of all. */
export function lossTotals(totals: readonly CauseTotal[]) {
  const all = totals.reduce((sum, { pieces }) => sum + pieces, 0);
  return totals
    .map(({ cause, pieces, lots }) => ({
      cause: causeWords(cause),
      ...{ pieces, lots, share: shareWords(pieces / all) },
    }))
    .sort((a, b) => b.pieces - a.pieces || a.cause.localeCompare(b.cause));
}

/** Losses as the list shows them; `say`: of which one the cause is being said. */
export const lossRows = (losses: readonly Loss[], say: string) =>
  losses.map((loss) => ({
    ...loss,
    href: lotHref(loss.code),
    name: loss.ownCode || loss.code,
    causeText: causeWords(loss.cause),
    open: loss.id === say,
  }));
