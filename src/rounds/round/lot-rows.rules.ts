import { slotName } from '../../farm/racks/slots.rules.ts';
import type { Comparison, ConditionState, GrowthForm, Severity } from '../../generated/prisma/enums.ts';
import { lowered } from '../../platform/words/capitals.ts';
import { shortConditionWords } from '../../racks/drawing/lot-words.rules.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { COMPARISON_WORDS, conditionWords } from '../../stock/base/condition-states.rules.ts';
import { cellWords } from '../../stock/places/slots.ts';
import type { RackLot, RackPhoto } from './rack-lots.ts';

/** The urgency with which a state is shown: `now` for what can kill within days; states that are not listed: `today`. */
const INK: Readonly<Partial<Record<ConditionState, Severity>>> = {
  bleached: 'now',
  receding: 'now',
  pest: 'now',
  lost: 'now',
  other: 'watch',
  well: 'watch',
};

/** How a lot looks by its last look, for its plate. */
export interface PlateLook {
  /** "paling", short. */
  word: string;
  ink: Severity;
}

/** A photo with the words of its day. */
interface DatedPhoto {
  id: string;
  when: string;
}

/** A lot's row on the walk. */
export interface LotRow {
  id: string;
  /** Its slots: "B3 to B5". */
  slots: string;
  /** Each of them, where pieces that go leave slots of it: "B3 B4 B5"; "" where it has one, or more slots than pieces. */
  slotNames: string;
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
  /** The look of before this round that "as before" goes on from: its key, state and grade; null where it was well, lost or never noted. */
  before: { id: string; state: ConditionState; grade: number | null } | null;
  /** How its plate is marked; null where it is well by all that is known. */
  look: PlateLook | null;
  /** How it was marked before this round, should an entry be taken back. */
  lookBefore: PlateLook | null;
  /** "last seen paling, 2 days ago": what is read out with its plate. */
  said: string;
  growthForm: GrowthForm | null;
  /** Of its face. */
  photoId: string | null;
  photo: DatedPhoto | null;
  photoThen: DatedPhoto | null;
  wantsPhoto: boolean;
  /** A note of it on this round was not taken, and nobody put it right since. */
  untaken: boolean;
}

/** A state and how much of it, as it stands in a row: "bleached, about a third", "well again", "paling, no worse". */
export function stateWords(
  state: ConditionState,
  grade: number | null,
  compared: Comparison | null = null,
): string {
  if (state === 'well') return 'well again';
  const words = conditionWords(state, grade, compared);
  return lowered(words);
}

export const inkOf = (state: ConditionState): Severity => INK[state] ?? 'today';

/** Words that are too long for a plate, or say too little on it. */
const PLATE_WORDS: Readonly<Partial<Record<ConditionState, string>>> = {
  polyps_shut: 'shut',
  silt: 'silt',
  other: 'not well',
};

const plateLook = (state: ConditionState | null, compared: Comparison | null = null): PlateLook | null =>
  state === null || state === 'well'
    ? null
    : {
        word:
          compared === null
            ? (PLATE_WORDS[state] ?? shortConditionWords({ state, grade: null }))
            : COMPARISON_WORDS[compared],
        ink: inkOf(state),
      };

/** A lot as the walker sees it. `untaken`: a note of it waits to be put right. `say` says how long ago something was. */
export function lotRow(
  lot: RackLot,
  { startedAt, now, untaken = false }: { startedAt: Date; now: Date; untaken?: boolean },
  say: (at: Date) => string,
): LotRow {
  const { id, code, ownCode, kind, pieces, state, grade, compared, seenAt, cutAt, before } = lot;
  const onThisRound = state !== null && seenAt !== null && seenAt >= startedAt;
  const open = !onThisRound && state !== null && seenAt !== null && state !== 'well';
  const words = state === null ? null : stateWords(state, grade, compared);
  const hints = [
    untaken ? 'a note of it was not taken' : null,
    open ? `${words}, ${say(seenAt)}` : null,
    cutAt === null ? null : healingWords(cutAt, now),
    alertWords(lot, state === null ? null : stateWords(state, grade)),
  ];
  const goesOn = before !== null && before.state !== 'well' && before.state !== 'lost';
  return {
    id,
    slots: cellWords(lot.cells).replaceAll(' to ', '\u2013\u200B'),
    slotNames: lot.cells.length > 1 && pieces >= lot.cells.length ? lot.cells.map(slotName).join(' ') : '',
    code,
    ownCode,
    kind,
    pieces,
    state: onThisRound ? words : null,
    ink: state === null ? 'watch' : inkOf(state),
    hints: hints.filter((hint) => hint !== null),
    open,
    before: goesOn ? { id: before.id, state: before.state, grade: before.grade } : null,
    look: plateLook(state, onThisRound ? compared : null),
    lookBefore: plateLook(before?.state ?? null),
    said: onThisRound ? `noted on this round: ${words}` : lastSeen(state, words, seenAt, say),
    growthForm: lot.growthForm,
    photoId: lot.photo?.id ?? null,
    photo: dated(lot.photo, say),
    photoThen: dated(lot.photoThen, say),
    wantsPhoto: lot.wantsPhoto,
    untaken,
  };
}

function lastSeen(
  state: ConditionState | null,
  words: string | null,
  seenAt: Date | null,
  say: (at: Date) => string,
): string {
  if (state === null || seenAt === null) return 'nothing noted before';
  return `last seen ${state === 'well' ? 'well' : words}, ${say(seenAt)}`;
}

const dated = (photo: RackPhoto | null, say: (at: Date) => string): DatedPhoto | null =>
  photo === null ? null : { id: photo.id, when: say(photo.takenAt) };

/** The alert without what the row says itself: the lot's code and place, and its state. */
function alertWords({ code, alert }: RackLot, state: string | null): string | null {
  if (alert === null) return null;
  const said = alert.startsWith(code) ? alert.slice(alert.indexOf(': ') + 2) : alert;
  const told = [state, state?.split(',')[0]].find(
    (words) => words !== undefined && words !== null && said.startsWith(words),
  );
  const rest = said
    .slice(told?.length ?? 0)
    .replace(/^,/, '')
    .trim();
  return rest === '' ? null : rest;
}

function healingWords(cutAt: Date, now: Date): string {
  const days = Math.floor(daysBetween(cutAt, now));
  return days === 0 ? 'cut today' : `healing, day ${days}`;
}
