import { PURPOSE_WORDS } from '../quarantine/purposes.rules.ts';
import { ACT_WORDS, type Act, type Answer, pestInWords, pestOf, strictest } from './pests.rules.ts';

/** A watch over the water of a lot, as far as it decides what may be done with the lot. */
export interface WatchOverLot {
  /** Null where the lot stands in no water yet, and so no watch is kept. */
  id: string | null;
  pest: string;
  /** "Frag hall", or "Tank 3 of Frag hall" where the tank's water is its own; '' where it stands in none. */
  water: string;
  /** It was seen on this very lot. */
  seenOn: boolean;
}

/** A quarantine that has not ended, in the tank where a lot stands. */
export interface QuarantineOfLot {
  id: string;
  tank: string;
  purpose: string;
}

/** Acts that can wait until the water is well again: a wound, another light, a promise of what it lived in. */
const WAITS: ReadonlySet<Act> = new Set(['cut', 'tag', 'move']);

/** What a lot's water says to an act. */
export interface GateAnswer {
  answer: Answer;
  /** One sentence; '' where it is free. */
  why: string;
  /** What a reason is kept with. */
  watchIds: string[];
  quarantineId: string | null;
}

/** Acts by which a lot leaves a quarantine. */
const LEAVES: ReadonlySet<Act> = new Set(['sale', 'move', 'tag']);

function pestWords({ pest, water, seenOn }: WatchOverLot): string {
  const name = pestInWords(pest);
  if (water === '')
    return `It was seen on this lot: ${name}. It is in no water yet: put it into a quarantine, whose water is then under watch.`;
  return seenOn
    ? `It was seen on this lot: ${name}. ${water} is under watch for it.`
    : `${water} is under watch for ${name}: it was seen there, or came with a lot.`;
}

/**
 * What is said to an act with one lot: by the pest's rule, by the quarantine it stands in, and by the open alerts on its water.
 * @param troubles titles of alerts on the water, the most urgent first
 */
export function gateAnswer(
  act: Act,
  watches: readonly WatchOverLot[],
  quarantine: QuarantineOfLot | null,
  troubles: readonly string[] = [],
): GateAnswer {
  const answers = watches.map((watch) => ({ watch, answer: ruleFor(watch)[act] }));
  const against = answers.filter(({ answer }) => answer !== 'free');
  const held = quarantine !== null && LEAVES.has(act) ? quarantine : null;
  const waits = WAITS.has(act) ? troubles : [];
  const words = [
    ...(waits.length === 0 ? [] : [troubleWords(waits)]),
    ...against.map(({ watch }) => pestWords(watch)),
    ...(held === null
      ? []
      : [`${held.tank} is in quarantine ${PURPOSE_WORDS[held.purpose] ?? ''}, which has not ended.`]),
  ];
  return {
    answer: strictest([
      ...answers.map(({ answer }) => answer),
      held === null && waits.length === 0 ? 'free' : 'asked',
    ]),
    why: words.join(' '),
    watchIds: against.flatMap(({ watch }) => watch.id ?? []),
    quarantineId: held?.id ?? null,
  };
}

/** Alerts on a water, as whoever would begin something there reads them, by their titles. */
export const troubleWords = (titles: readonly string[]): string =>
  `${titles.length === 1 ? 'An alert is' : 'Alerts are'} open on this water: ${titles.join('; ')}.`;

const ruleFor = ({ pest, seenOn }: WatchOverLot) => pestOf(pest).rule[seenOn ? 'seenOn' : 'sharing'];

/** Why an act is not done; '' where it is, for it is free, or asked and a reason is given. */
export function gateRefusal(code: string, act: Act, said: GateAnswer, reason: string): string {
  const { answer, why, watchIds, quarantineId } = said;
  // Of an alert on the water alone it may stay in this water.
  const within = act === 'move' && watchIds.length === 0 && quarantineId === null;
  const doing = within ? 'move it' : ACT_WORDS[act];
  if (answer === 'free' || (answer === 'asked' && reason !== '')) return '';
  return answer === 'refused'
    ? `${code}: ${why} To ${doing} is refused until the watch has ended, by the rule for this pest.`
    : `${code}: ${why} Say why you ${doing} anyway.`;
}
