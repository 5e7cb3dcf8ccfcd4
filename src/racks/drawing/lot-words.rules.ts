import type { ConditionState } from '../../generated/prisma/enums.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import type { SlotOccupant } from '../../stock/places/occupancy.ts';

/** Shorter than the words of a lot's own page: a label has room for about twelve characters. */
const stateWords: Record<ConditionState, string> = {
  well: 'well',
  paling: 'paling',
  bleached: 'bleached',
  receding: 'receding',
  polyps_shut: 'polyps shut',
  silt: 'silt on it',
  algae: 'algae',
  pest: 'pest',
  loose: 'loose',
  jet: 'in a jet',
  lost: 'lost',
  other: 'noted',
};
const gradeWords = ['', 'a little', 'a third', 'most of it'];

/** The condition of a lot, short enough for a label: "paling, a third". */
export function shortConditionWords({
  state,
  grade,
}: {
  state: ConditionState;
  grade: number | null;
}): string {
  const grading = gradeWords[grade ?? 0] ?? '';
  return grading === '' ? stateWords[state] : `${stateWords[state]}, ${grading}`;
}

/** A length of time, short enough for a label: "5 d", "7 wk", "14 mo". */
export function shortAge(since: Date, now: Date): string {
  const days = Math.max(0, Math.floor(daysBetween(since, now)));
  if (days < 28) return `${days} d`;
  return days < 182 ? `${Math.round(days / 7)} wk` : `${Math.round(days / 30.44)} mo`;
}

/** Shorter words for some rules; the others are shown by their own name. */
const shortAlertWords: Readonly<Record<string, string>> = {
  'too-much-light': 'too bright',
  'too-little-light': 'too dim',
  lightening: 'lighter',
  'flow-unsuited': 'wrong flow',
  'jet-on-flesh': 'in a jet',
  'loose-in-flow': 'may fall',
  'neighbours-in-reach': 'too near',
};

/** The open alert about a lot in two or three words; '' when nothing is open. */
export function openAlertWords({ alert, look }: SlotOccupant): string {
  if (alert === null) return '';
  if (alert.rule === 'condition-noted' && look !== null) return shortConditionWords(look);
  return shortAlertWords[alert.rule] ?? alert.rule.replaceAll('-', ' ');
}
