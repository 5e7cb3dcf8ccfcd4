import type { ConditionState } from '../../generated/prisma/enums.ts';
import { mmWords } from '../../platform/units/measures.ts';
import { dayCount, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { conditionWords } from '../base/condition-states.rules.ts';
import type { Care } from '../kinds/care.ts';

/** What decides whether a lot may be cut, besides pests. */
export interface CutFacts {
  /** When it came from elsewhere; null where it was cut or split off here. */
  cameAt: Date | null;
  /** When it was cut off another lot here; null where it was not. */
  cutOffAt: Date | null;
  /** When pieces were last cut off it; null: never. */
  cutFromAt: Date | null;
  /** Since when it stands where it stands; null: on no rack. */
  standsSince: Date | null;
  look: { state: ConditionState; grade: number | null; at: Date } | null;
  quarantineUntil: Date | null;
  /** The tank of its quarantine; '' where it is in none. */
  quarantineTank: string;
  acclimating: boolean;
}

/** What speaks against a cut. A reason is asked for; or it is only said. */
export interface AgainstCut {
  what: 'condition' | 'look' | 'new' | 'place' | 'healing' | 'apart' | 'light' | 'size';
  text: string;
  asks: boolean;
}

/** A look counts for these days (own choice, as for a sale). */
const LOOK_DAYS = 7;

/** A lot has settled in its place after these days (common practice: a week). */
const SETTLING_DAYS = 7;

/** States in which a cut adds a wound to an animal that is losing ground already (common practice). */
const SICK: ReadonlySet<ConditionState> = new Set([
  'paling',
  'bleached',
  'receding',
  'polyps_shut',
  'algae',
  'other',
]);

const against = (what: AgainstCut['what'], text: string, asks = true): AgainstCut[] => [{ what, text, asks }];
const wholeDays = (from: Date, to: Date) => Math.floor(daysBetween(from, to));
const agoWords = (days: number) => (days === 0 ? 'today' : `${plural(days, 'day', 'days')} ago`);

/**
 * All that speaks against cutting a lot at a moment, each in a sentence; empty where nothing does.
 * @param sizeMm of a new piece, mm; null while nobody said
 */
export function againstCut(
  facts: CutFacts,
  care: Care,
  { at, sizeMm, timeZone }: { at: Date; sizeMm: number | null; timeZone: string },
): AgainstCut[] {
  return [
    ...lookReasons(facts, at),
    ...timeReasons(facts, care, at),
    ...placeReasons(facts, at, timeZone),
    ...sizeReasons(care, sizeMm),
  ];
}

function lookReasons({ look }: CutFacts, at: Date): AgainstCut[] {
  if (look === null) return against('look', 'Nobody has noted how it looks. Look at it first.', false);
  const days = wholeDays(look.at, at);
  const seen = conditionWords(look.state, look.grade).toLowerCase();
  if (SICK.has(look.state))
    return against('condition', `It was ${seen} at the last look, ${agoWords(days)}.`);
  return days > LOOK_DAYS
    ? against('look', `It was last looked at ${agoWords(days)}. Look at it first.`, false)
    : [];
}

function timeReasons({ cameAt, cutOffAt, cutFromAt }: CutFacts, care: Care, at: Date): AgainstCut[] {
  const kept = care.quarantine_days?.high ?? null;
  const heal = care.heal_days?.high ?? null;
  const within = (since: Date | null, days: number | null): since is Date =>
    since !== null && days !== null && since <= at && daysBetween(since, at) < days;
  return [
    ...(within(cameAt, kept)
      ? against(
          'new',
          `It came ${agoWords(wholeDays(cameAt, at))}; given ${dayCount(kept ?? 0)} to settle in.`,
        )
      : []),
    ...(within(cutOffAt, heal)
      ? against(
          'healing',
          `It was cut off ${agoWords(wholeDays(cutOffAt, at))}; given ${dayCount(heal ?? 0)} to heal.`,
        )
      : []),
    // Several lots made of one colony in one go are one wound.
    ...(within(cutFromAt, heal) && daysBetween(cutFromAt, at) >= 1
      ? against(
          'healing',
          `It was cut ${agoWords(wholeDays(cutFromAt, at))}; given ${dayCount(heal ?? 0)} to heal.`,
        )
      : []),
  ];
}

function placeReasons(facts: CutFacts, at: Date, timeZone: string): AgainstCut[] {
  const { standsSince, cameAt, cutOffAt, quarantineUntil, quarantineTank, acclimating } = facts;
  const moved = [cameAt, cutOffAt].every(
    (began) => began === null || standsSince === null || standsSince > began,
  );
  const days = standsSince === null ? null : daysBetween(standsSince, at);
  return [
    ...(moved && days !== null && days >= 0 && days < SETTLING_DAYS
      ? against(
          'place',
          `It has been there for ${plural(Math.floor(days), 'day', 'days')}; give it ${SETTLING_DAYS}.`,
        )
      : []),
    ...(quarantineTank === '' ? [] : against('apart', `${quarantineTank} is in quarantine.`)),
    ...(quarantineUntil !== null && quarantineUntil > at
      ? against('apart', `It is kept apart until ${dateWords(quarantineUntil, timeZone)}.`)
      : []),
    ...(acclimating ? against('light', 'It is being acclimated to other light.') : []),
  ];
}

function sizeReasons(care: Care, sizeMm: number | null): AgainstCut[] {
  const least = care.piece_size_mm?.high ?? 0;
  if (sizeMm === null || sizeMm >= least) return [];
  return against('size', `Pieces of ${mmWords(sizeMm)}; its kind is cut no smaller than ${mmWords(least)}.`);
}
