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

/** Whether the watch stands still in a system that it once looked at. */
export const isStill = ({ judgedAt }: Pick<Watched, 'judgedAt'>, now: Date): boolean =>
  judgedAt !== null && now.getTime() - judgedAt.getTime() >= stillAfterMs;

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
  const never = systems.filter(({ judgedAt }) => judgedAt === null);
  const still = systems.filter((system) => isStill(system, clock.now));
  const broken = systems.filter((system) => !isStill(system, clock.now) && system.broken.length > 0);
  const whereOf = (some: readonly Watched[]) =>
    some.length > 1 && some.length === systems.length ? 'any system' : someOf(some.map(({ name }) => name));
  const now = (words: string): WatchGap => ({ words: `${words} ${instead}`, severity: 'now' });
  return [
    ...(never.length === 0
      ? []
      : [now(`The watch has not looked at ${whereOf(never)} yet: what is wrong there has no alert.`)]),
    ...(still.length === 0
      ? []
      : [
          now(
            `The watch has not looked at ${whereOf(still)} since ${oldestWords(still, clock)}: what went wrong since then has no alert.`,
          ),
        ]),
    ...broken.map((one) => ({ words: brokenWords(one, headingOf, clock), severity: 'today' as const })),
  ];
}

const instead = 'Test and look yourself, and have whoever runs the service read its log.';

/** When the one of them that waits longest was judged. */
function oldestWords(still: readonly Watched[], { timeZone, now }: Clock): string {
  const times = still.flatMap(({ judgedAt }) => judgedAt?.getTime() ?? []);
  return whenWords(new Date(Math.min(...times)), timeZone, now);
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
