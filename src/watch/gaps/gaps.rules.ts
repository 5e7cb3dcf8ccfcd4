import { andWords } from '../../platform/words/lists.ts';
import { whenWords } from '../../platform/words/times.ts';
import { hourMs } from '../../science/numeric/time.ts';

/** Every system is judged once an hour and whenever something is entered: after this long the watch stands still. */
export const stillAfterMs = 2 * hourMs;

/** What the watch did in one system. */
export interface Watched {
  name: string;
  /** When its rules were last asked; null: never. */
  judgedAt: Date | null;
  /** Names of the rules that broke then. */
  broken: readonly string[];
  /** Since when at least one has been broken there; null while none is. */
  brokenSince: Date | null;
}

/** Something that no alert can tell, since the watch did not look, and how urgent it is to look instead. */
export interface WatchGap {
  words: string;
  severity: 'now' | 'today';
}

interface Clock {
  timeZone: string;
  now: Date;
}

/** Names that stand in a sentence; the others are counted (own choice). */
const namesShown = 3;

/**
 * What no alert can tell; nothing where the watch looked at all. Told first is where it stands still.
 * @param headingOf a rule's name for people
 */
export function watchGaps(
  systems: readonly Watched[],
  headingOf: (rule: string) => string,
  clock: Clock,
): WatchGap[] {
  const isStill = ({ judgedAt }: Watched) =>
    judgedAt === null || clock.now.getTime() - judgedAt.getTime() >= stillAfterMs;
  const still = systems.filter(isStill);
  const broken = systems.filter((system) => !isStill(system) && system.broken.length > 0);
  return [
    ...(still.length === 0
      ? []
      : [{ words: stillWords(still, still.length === systems.length, clock), severity: 'now' as const }]),
    ...broken.map((one) => ({ words: brokenWords(one, headingOf, clock), severity: 'today' as const })),
  ];
}

/** One sentence for all of them, of the time of the one that waits longest. */
function stillWords(still: readonly Watched[], isAll: boolean, { timeZone, now }: Clock): string {
  const where = isAll && still.length > 1 ? 'any system' : someOf(still.map(({ name }) => name));
  const times = still.map(({ judgedAt }) => judgedAt);
  const oldest = times.flatMap((at) => at ?? []).toSorted((a, b) => a.getTime() - b.getTime())[0];
  const missed =
    oldest === undefined || times.includes(null)
      ? 'yet: what is wrong there has no alert'
      : `since ${whenWords(oldest, timeZone, now)}: what went wrong since then has no alert`;
  return `The watch has not looked at ${where} ${missed}. Test and look yourself, and have whoever runs the service read its log.`;
}

function brokenWords(
  { name, broken, brokenSince }: Watched,
  headingOf: (rule: string) => string,
  { timeZone, now }: Clock,
): string {
  const what = someOf(broken.map((rule) => `“${headingOf(rule)}”`));
  const since = brokenSince === null ? '' : ` since ${whenWords(brokenSince, timeZone, now)}`;
  return `In ${name} the watch cannot judge ${what}${since}: the program met a fault. Alerts of it may be missing or out of date. Look for it yourself, and have whoever runs the service read its log.`;
}

const someOf = (names: readonly string[]): string =>
  names.length <= namesShown + 1
    ? andWords(names)
    : andWords([...names.slice(0, namesShown), `${names.length - namesShown} more`]);
