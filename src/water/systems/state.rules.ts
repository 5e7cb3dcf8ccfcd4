import { isStill } from '../../alerts/gaps/gaps.rules.ts';
import { plural } from '../../platform/words/numbers.ts';
import { dateWords, dayWords, whenWords } from '../../platform/words/times.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { nameInSentence } from '../quantities/name.rules.ts';

/** What is open, put off and known of a system. */
export interface SystemState {
  id: string;
  name: string;
  /** Open alerts that nothing else explains, without those put off. */
  alerts: number;
  /** When each alert that is put off comes back, the next first. */
  putOff: Date[];
  /** The newest test of what is titrated or measured in a sample; null where there never was one. */
  tested: Date | null;
  /** Whether anything at all was ever read in it; left out where nothing was. */
  read?: boolean;
  /** When the watch last judged it, null: never, and how many of its rules broke then; left out where it is too new to be judged. */
  watch?: { judgedAt: Date | null; broken: number } | null;
  /** The newest test of each quantity that its kind of water is judged by and that it keeps a band of; null: never. */
  tests?: readonly { name: string; at: Date | null }[];
}

/** Own choice: a farm that looks after its water tests something at least once a week. */
const testedWithinDays = 7;
/** Common practice: what is used up or made slowly is tested every week or two. */
const eachWithinDays = 14;

type Clock = { timeZone: string; now: Date };

/** "1 put off until Tuesday 1 December"; of several the next one's day; empty where none is. */
export function putOffWords(times: readonly Date[], { timeZone, now }: Clock): string {
  const [next] = times;
  if (next === undefined) return '';
  const until = dayWords(next, timeZone, now);
  return times.length === 1 ? `1 put off until ${until}` : `${times.length} put off, the next until ${until}`;
}

/**
 * "water not tested since 3 Nov 2026"; where only some of what it keeps was tested, "calcium and magnesium not tested for
 * 14 days". Empty where all was tested lately. A temperature,
 * pH or salinity alone is no test of the water.
 */
export function untestedWords(
  { tested, tests = [], read = false }: Pick<SystemState, 'tested' | 'tests' | 'read'>,
  { timeZone, now }: Clock,
): string {
  if (tested === null) return read ? 'alkalinity, calcium and nutrients never tested' : 'water never tested';
  if (daysBetween(tested, now) > testedWithinDays)
    return `water not tested since ${dateWords(tested, timeZone)}`;
  const names = (of: (at: Date | null) => boolean) =>
    listed(tests.filter(({ at }) => of(at)).map(({ name }) => nameInSentence(name)));
  const stale = names((at) => at !== null && daysBetween(at, now) > eachWithinDays);
  const never = names((at) => at === null);
  return [
    stale === '' ? '' : `${stale} not tested for ${eachWithinDays} days`,
    never === '' ? '' : `${never} never tested`,
  ]
    .filter((part) => part !== '')
    .join(', ');
}

/**
 * The same in four words at most, where the whole stands on the system's page: "phosphate never tested", of several
 * "3 tests missing".
 */
export function untestedBriefly(state: Pick<SystemState, 'tested' | 'tests' | 'read'>, clock: Clock): string {
  const { tested, tests = [], read = false } = state;
  if (tested === null && read) return 'alkalinity never tested';
  const isMissing = ({ at }: { at: Date | null }) =>
    at === null || daysBetween(at, clock.now) > eachWithinDays;
  const missing = tests.filter(isMissing).length;
  const isTested = tested !== null && daysBetween(tested, clock.now) <= testedWithinDays;
  return isTested && missing > 1 ? `${missing} tests missing` : untestedWords(state, clock);
}

const listed = (names: readonly string[]) =>
  names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;

/** "not watched since 09:00", "the watch cannot judge all of it"; empty where the watch looked. */
export function unwatchedWords({ watch }: Pick<SystemState, 'watch'>, { timeZone, now }: Clock): string {
  if (watch === undefined || watch === null) return '';
  const { judgedAt, broken } = watch;
  if (judgedAt === null) return 'not watched yet';
  if (isStill({ judgedAt }, now)) return `not watched since ${whenWords(judgedAt, timeZone, now)}`;
  return broken > 0 ? 'the watch cannot judge all of it' : '';
}

/**
 * How a system stands, in words: quiet only where the watch looked at it, all it keeps was tested lately, nothing is open and
 * nothing is put off.
 */
export function stateWords(state: SystemState, clock: Clock): { calm: boolean; words: string } {
  const open = state.alerts === 0 ? '' : plural(state.alerts, 'open alert', 'open alerts');
  const said = [
    unwatchedWords(state, clock),
    open,
    putOffWords(state.putOff, clock),
    untestedWords(state, clock),
  ].filter((one) => one !== '');
  return { calm: said.length === 0, words: said.length === 0 ? 'quiet' : said.join(', ') };
}
