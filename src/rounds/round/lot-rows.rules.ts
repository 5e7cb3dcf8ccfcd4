import type { ConditionState, Severity } from '../../generated/prisma/enums.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { conditionWords } from '../../stock/base/condition-states.rules.ts';
import { cellWords } from '../../stock/places/slots.ts';
import type { RackLot } from './rack-lots.ts';

/** The urgency with which a state is shown: `now` for what can kill within days; states that are not listed: `today`. */
const INK: Readonly<Partial<Record<ConditionState, Severity>>> = {
  bleached: 'now',
  receding: 'now',
  pest: 'now',
  lost: 'now',
  other: 'watch',
  well: 'watch',
};

/** A lot's row on the walk. */
export interface LotRow {
  id: string;
  /** Its slots: "B3 to B5". */
  slots: string;
  code: string;
  /** "" where it has none. */
  ownCode: string;
  kind: string;
  pieces: number;
  /** What it is now on this round: "bleached, about a third"; null while nothing was noted. */
  state: string | null;
  ink: Severity;
  /** Words worth knowing before looking. */
  hints: string[];
  /** Not well when last noted before this round, and not looked at since. */
  open: boolean;
}

/** A state and how much of it, as it stands in a row: "bleached, about a third", "well again". */
export function stateWords(state: ConditionState, grade: number | null): string {
  if (state === 'well') return 'well again';
  const words = conditionWords(state, grade);
  return words.charAt(0).toLowerCase() + words.slice(1);
}

export const inkOf = (state: ConditionState): Severity => INK[state] ?? 'today';

/** A lot as the walker sees it. `say` says how long ago something was. */
export function lotRow(lot: RackLot, startedAt: Date, now: Date, say: (at: Date) => string): LotRow {
  const { id, code, ownCode, kind, pieces, state, grade, seenAt, cutAt } = lot;
  const onThisRound = state !== null && seenAt !== null && seenAt >= startedAt;
  const open = !onThisRound && state !== null && seenAt !== null && state !== 'well';
  const words = state === null ? null : stateWords(state, grade);
  const hints = [
    open ? `${words}, ${say(seenAt)}` : null,
    cutAt === null ? null : healingWords(cutAt, now),
    alertWords(lot, words),
  ];
  return {
    id,
    slots: cellWords(lot.cells).replaceAll(' to ', '\u2013\u200B'),
    code,
    ownCode,
    kind,
    pieces,
    state: onThisRound ? words : null,
    ink: state === null ? 'watch' : inkOf(state),
    hints: hints.filter((hint) => hint !== null),
    open,
  };
}

/** The alert without what the row says itself: the lot's code and place, and its state. */
function alertWords({ code, alert }: RackLot, state: string | null): string | null {
  if (alert === null) return null;
  const said = alert.startsWith(code) ? alert.slice(alert.indexOf(': ') + 2) : alert;
  const rest = state !== null && said.startsWith(state) ? said.slice(state.length).trim() : said;
  return rest === '' ? null : rest;
}

function healingWords(cutAt: Date, now: Date): string {
  const days = Math.floor(daysBetween(cutAt, now));
  return days === 0 ? 'cut today' : `healing, day ${days}`;
}
