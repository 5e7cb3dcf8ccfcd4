import type { ConditionState } from '../../generated/prisma/enums.ts';
import { mmWords } from '../../platform/units/measures.ts';
import { dayCount, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { conditionWords } from '../base/condition-states.rules.ts';
import type { Care } from '../kinds/care.ts';
import { pestInWords, pestOf } from '../pests/pests.rules.ts';

/** The facts that decide whether pieces of a lot are ready to be sold. */
export interface SaleFacts {
  pieces: number;
  /** Pieces held for buyers. */
  held: number;
  isMother: boolean;
  sizeMm: number | null;
  /** When it was cut from another lot here; null when it came from elsewhere. */
  cutAt: Date | null;
  arrivedAt: Date;
  look: { state: ConditionState; grade: number | null; at: Date } | null;
  alerts: string[];
  /** A note of it on a round was not taken, and nobody put it right or left it out. */
  noteWaits: boolean;
  quarantineUntil: Date | null;
  inQuarantineTank: boolean;
  /** Codes of the pests for which the water it stands in is under watch. */
  pests: string[];
  acclimating: boolean;
}

/** One reason against selling, and the source of the figure behind it ('' where there is none). */
export interface NotReadyReason {
  what:
    | 'count'
    | 'mother'
    | 'size'
    | 'healing'
    | 'new'
    | 'condition'
    | 'look'
    | 'alert'
    | 'apart'
    | 'light'
    | 'pest';
  text: string;
  source: string;
}

/** A lot must have been looked at within these days before it is sold (own choice). */
export const LOOK_DAYS = 7;

const daysSince = (at: Date, now: Date) => Math.floor(daysBetween(at, now));
const daysWords = (days: number) => (days === 0 ? 'today' : `${plural(days, 'day', 'days')} ago`);

/**
 * Every reason why pieces of a lot are not ready to be sold; empty when they are. Figures come from the lot's care:
 * days to heal, size, days kept back.
 */
export function notReadyReasons(facts: SaleFacts, care: Care, now: Date, timeZone: string): NotReadyReason[] {
  return [
    ...countReasons(facts),
    ...sizeReasons(facts, care),
    ...timeReasons(facts, care, now),
    ...healthReasons(facts, now),
    ...placeReasons(facts, now, timeZone),
  ];
}

const reason = (what: NotReadyReason['what'], text: string, source = ''): NotReadyReason[] => [
  { what, text, source },
];

function countReasons({ pieces, held, isMother }: SaleFacts): NotReadyReason[] {
  return [
    ...(pieces === 0 ? reason('count', 'No pieces are left.') : []),
    ...(pieces > 0 && held >= pieces ? reason('count', 'All pieces are held for buyers.') : []),
    ...(isMother ? reason('mother', 'It is kept as a mother.') : []),
  ];
}

function sizeReasons({ sizeMm }: SaleFacts, care: Care): NotReadyReason[] {
  const least = care.sale_size_mm;
  if (least?.high == null || least.high === 0) return [];
  if (sizeMm === null) return reason('size', 'Nobody noted its size.', least.source);
  if (sizeMm >= least.high) return [];
  return reason('size', `${mmWords(sizeMm)}; sold from ${mmWords(least.high)}.`, least.source);
}

function timeReasons({ cutAt, arrivedAt }: SaleFacts, care: Care, now: Date): NotReadyReason[] {
  const heal = care.heal_days;
  if (cutAt !== null) {
    const days = daysSince(cutAt, now);
    if (heal?.high == null || days >= heal.high) return [];
    return reason('healing', `Cut ${daysWords(days)}; given ${dayCount(heal.high)} to heal.`, heal.source);
  }
  const quarantine = care.quarantine_days;
  const days = daysSince(arrivedAt, now);
  if (quarantine?.high == null || days >= quarantine.high) return [];
  return reason(
    'new',
    `Came ${daysWords(days)}; kept back for ${dayCount(quarantine.high)}.`,
    quarantine.source,
  );
}

function healthReasons({ look, alerts, noteWaits }: SaleFacts, now: Date): NotReadyReason[] {
  const days = look === null ? null : daysSince(look.at, now);
  return [
    ...(look !== null && look.state !== 'well'
      ? reason('condition', `${conditionWords(look.state, look.grade)} at the last look.`)
      : []),
    ...(noteWaits ? reason('look', 'A note of it was not taken: put it right on its round first.') : []),
    ...(days === null ? reason('look', 'Nobody has noted how it looks.') : []),
    ...(days !== null && days > LOOK_DAYS ? reason('look', `Last looked at ${daysWords(days)}.`) : []),
    ...alerts.flatMap((title) => reason('alert', `Alert: ${title}`)),
  ];
}

function placeReasons(facts: SaleFacts, now: Date, timeZone: string): NotReadyReason[] {
  const { quarantineUntil, inQuarantineTank, pests, acclimating } = facts;
  const until =
    quarantineUntil !== null && quarantineUntil > now
      ? reason('apart', `Kept apart until ${dateWords(quarantineUntil, timeZone)}.`)
      : [];
  return [
    ...pests.flatMap((code) => {
      const { rule } = pestOf(code);
      return reason('pest', `Its water is under watch for a pest: ${pestInWords(code)}.`, rule.source);
    }),
    ...until,
    ...(inQuarantineTank && until.length === 0 ? reason('apart', 'It is in a quarantine tank.') : []),
    ...(acclimating ? reason('light', 'It is being acclimated to other light.') : []),
  ];
}
