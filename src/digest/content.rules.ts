import type { EmergencyLine } from '../emergencies/running/list.ts';
import type { DueTask } from '../farm/tasks/due-task.ts';
import { lowered } from '../platform/words/capitals.ts';
import type { Figure } from '../platform/words/figures.ts';
import { numberWords, plural } from '../platform/words/numbers.ts';
import { dayWords, whenWords } from '../platform/words/times.ts';
import type { PlannedRound } from '../rounds/schedule/schedule.ts';
import { minuteMs } from '../science/numeric/time.ts';
import { causeWords } from '../stock/losses/causes.rules.ts';
import { stateWords } from '../water/systems/state.rules.ts';
import type { DigestAlert, DigestChange, DigestContent, DigestWork } from './content.ts';
import type { AlertEventFacts, DigestSystemFacts, PutOffFacts, StockFacts } from './facts.ts';

const numberNames = ['Nothing', 'One', 'Two', 'Three', 'Four', 'Five', 'Six', 'Seven', 'Eight', 'Nine'];
const numberName = (n: number) => numberNames[n] ?? String(n);

/**
 * "Two things today, one of them now"; what is only watched does not count. `isWrong`: an emergency was begun and not
 * ended, which goes before all else. `isUnwatched`: the watch did not look at all of it, so that no alert says little.
 */
export function headline(
  alerts: readonly DigestAlert[],
  { isWrong = false, isUnwatched = false }: { isWrong?: boolean; isUnwatched?: boolean } = {},
): string {
  const things = thingsToDo(alerts);
  const none = isUnwatched ? 'The watch did not look at everything' : 'Nothing to decide today';
  if (!isWrong) return things ?? none;
  return things === null ? 'Something is wrong now' : `Something is wrong now, and ${lowered(things)}`;
}

function thingsToDo(alerts: readonly DigestAlert[]): string | null {
  const now = alerts.filter((alert) => alert.severity === 'now').length;
  const today = alerts.filter((alert) => alert.severity === 'today').length;
  const all = now + today;
  if (all === 0) return null;
  const things = `${numberName(all)} ${all === 1 ? 'thing' : 'things'}`;
  if (today === 0) return `${things} now`;
  return now === 0 ? `${things} today` : `${things} today, ${numberName(now).toLowerCase()} of them now`;
}

const listed = (names: readonly string[]) =>
  names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;

/**
 * One sentence on what is quiet (tested lately, nothing open, nothing put off), one on the count of pieces. Nothing is
 * called quiet where the watch did not look at all of it.
 */
export function lead(
  systems: readonly DigestSystemFacts[],
  stock: StockFacts,
  clock: { timeZone: string; now: Date; isUnwatched?: boolean },
): string {
  const looked = clock.isUnwatched === true ? [] : systems;
  const quiet = looked.filter(({ state }) => stateWords(state, clock).calm).map(({ name }) => name);
  const said = quiet.length === 0 ? '' : `${listed(quiet)} ${quiet.length === 1 ? 'is' : 'are'} quiet. `;
  const net = stock.changes.reduce((sum, change) => sum + change.pieces, 0);
  const than =
    net === 0
      ? 'as many as yesterday'
      : `${numberWords(Math.abs(net))} ${net < 0 ? 'fewer' : 'more'} than yesterday`;
  return `${said}${plural(stock.pieces, 'piece', 'pieces')} in ${plural(stock.lots, 'lot', 'lots')}, ${than}.`;
}

/** The counts of the whole stock, as the digest says them. */
export function stockFigures(siteId: string, stock: Pick<StockFacts, 'pieces' | 'lots'>): Figure[] {
  const counted = (name: string, value: number, one: string, many: string): Figure => ({
    ...{ name, of: siteId, value },
    text: plural(value, one, many),
  });
  return [
    counted('stock.pieces', stock.pieces, 'piece', 'pieces'),
    counted('stock.lots', stock.lots, 'lot', 'lots'),
  ];
}

const changeWords: Record<string, DigestChange['kind']> = {
  opened: 'New',
  worse: 'Worse',
  better: 'Better',
  cleared: 'Cleared',
  put_off: 'Put off',
  back: 'Back',
  acted: 'Acted on',
};

/**
 * What changed, each alert once by its last change; one that opened and cleared in between is told as cleared. What is
 * new and open stands above among the alerts already and is left out here.
 */
export function changes(events: readonly AlertEventFacts[], open: readonly DigestAlert[]): DigestChange[] {
  const openIds = new Set(open.map((alert) => alert.id));
  const last = new Map(
    events.filter((event) => changeWords[event.kind] !== undefined).map((event) => [event.alertId, event]),
  );
  return [...last.values()]
    .map(({ alertId, kind, title }) => ({ kind: changeWords[kind] ?? 'New', title, alertId }))
    .filter((change) => !(change.kind === 'New' && openIds.has(change.alertId)));
}

/** Alerts put off, each with the day it comes back and why it can wait. */
export function putOffLines(
  alerts: readonly PutOffFacts[],
  { timeZone, now }: { timeZone: string; now: Date },
): DigestContent['putOff'] {
  return alerts.map(({ id, title, until, reason }) => ({
    id,
    title,
    words: `until ${dayWords(until, timeZone, now)}: ${reason}`,
  }));
}

/** Rounds that nobody began or ended, and finished ones on which racks were passed by. */
export function notDoneLines(rounds: readonly PlannedRound[]): string[] {
  return rounds.flatMap(({ name, assignee, state, racks, looked, steps }) => {
    const whose = `${name}${assignee === null ? '' : ` (${assignee})`}`;
    if (state === 'missed') return `${whose}: nobody walked it`;
    if (state === 'unfinished')
      return `${whose}: begun, ${looked} of ${plural(racks, 'rack', 'racks')} looked at`;
    const left = steps.includes('look') ? racks - looked : 0;
    return state === 'finished' && left > 0 ? `${whose}: ${plural(left, 'rack', 'racks')} not looked at` : [];
  });
}

const reasonWords: Record<string, [string, string]> = {
  received: ['piece received', 'pieces received'],
  cut_in: ['new piece cut', 'new pieces cut'],
  cut_out: ['piece given for cutting', 'pieces given for cutting'],
  lost: ['piece lost', 'pieces lost'],
  sold: ['piece sold', 'pieces sold'],
  recount: ['by recount', 'by recount'],
  returned: ['piece came back', 'pieces came back'],
};

/** Up to this many lots are named, the rest only counted (own choice). */
const mostNamed = 5;
const someOf = (codes: readonly string[]) =>
  codes.length > mostNamed
    ? `${codes.slice(0, mostNamed).join(', ')} and ${plural(codes.length - mostNamed, 'more lot', 'more lots')}`
    : listed(codes);

/** "; cause: bleached 2, not known 1"; nothing where no cause is known. */
const causesOf = (causes: StockFacts['causes']): string =>
  causes.every(({ cause }) => cause === 'unknown')
    ? ''
    : `; cause: ${causes.map(({ cause, pieces }) => `${causeWords(cause).toLowerCase()} ${pieces}`).join(', ')}`;

/** Losses, sales, arrivals and recoveries since the last digest; empty when there were none. */
export function stockLines({ changes: summed, losing, causes, recovered, freed }: StockFacts): string[] {
  const counted = summed.flatMap(({ reason, pieces }) => {
    const words = reasonWords[reason];
    if (words === undefined || pieces === 0) return [];
    const said = plural(Math.abs(pieces), ...words);
    return reason === 'lost' ? `${said}: ${someOf(losing)}${causesOf(causes)}` : said;
  });
  return [
    ...counted,
    ...(recovered.length === 0
      ? []
      : [`${someOf(recovered)} ${recovered.length === 1 ? 'looks' : 'look'} well again`]),
    ...(freed.length === 0
      ? []
      : [`No longer held, the day is over: ${freed.length === 1 ? 'order' : 'orders'} ${freed.join(', ')}`]),
  ];
}

/** More than a quarter of an hour after its hour, a digest says why it is late. */
export function lateWords(due: Date, now: Date, clock: string): string {
  const minutes = Math.round((now.getTime() - due.getTime()) / minuteMs);
  if (minutes <= 15) return '';
  const hours = Math.floor(minutes / 60);
  return `Due at ${clock}, made ${hours > 0 ? `${hours} h ${minutes % 60} min` : `${minutes} min`} later: the service was not running then.`;
}

/** Due work in one line a system, in the order of the systems: tests as a number, everything else by its name. */
export function dueLines(tasks: readonly DueTask[], systemIds: readonly string[]): DigestWork[] {
  const open = Map.groupBy(
    tasks.filter(({ done }) => !done),
    ({ systemId }) => systemId,
  );
  return systemIds.flatMap((id) => {
    const own = open.get(id) ?? [];
    const [first] = own;
    if (first === undefined) return [];
    const tests = own.filter(({ work }) => work === 'test').length;
    const others = own.filter(({ work }) => work !== 'test').map(dueWords);
    const parts = [...others, ...(tests === 0 ? [] : [plural(tests, 'test', 'tests')])];
    const href = `/water/systems/${id}`;
    return {
      at: '',
      where: first.systemName,
      what: parts.join('; '),
      short: countedWords(own),
      count: own.length,
      who: '',
      href,
    };
  });
}

const workNames: Readonly<Record<DueTask['work'], [string, string]>> = {
  test: ['test', 'tests'],
  water_change: ['water change', 'water changes'],
  dose: ['dose', 'doses'],
  feeding: ['feeding', 'feedings'],
  correction: ['correction', 'corrections'],
  light: ['step of light', 'steps of light'],
  move: ['move', 'moves'],
  service: ['service', 'services'],
  safety_check: ['safety check', 'safety checks'],
  look: ['look', 'looks'],
};

/** "1 water change, 3 tests, 2 overdue". */
function countedWords(tasks: readonly DueTask[]): string {
  const kinds = [...Map.groupBy(tasks, ({ work }) => work)].map(([work, all]) =>
    plural(all.length, ...workNames[work]),
  );
  const late = tasks.filter(({ overdueDays }) => overdueDays > 0).length;
  return [...kinds, ...(late === 0 ? [] : [`${late} overdue`])].join(', ');
}

function dueWords({ title, held, overdueDays }: DueTask): string {
  if (held !== null) return `${title} (held back: ${held})`;
  return overdueDays === 0 ? title : `${title} (${plural(overdueDays, 'day', 'days')} overdue)`;
}

/** One emergency in a line: where, from when to when, what it was, and the alerts that were part of it. */
export function emergencyWords(line: EmergencyLine, timeZone: string, now: Date) {
  const { id, title, systems, startedAt, endedAt, ending, alerts, unanswered } = line;
  const from = whenWords(startedAt, timeZone, now);
  const span =
    endedAt === null ? `since ${from}, not ended` : `${from} to ${whenWords(endedAt, timeZone, now)}`;
  const part = alerts === 0 ? '' : ` ${plural(alerts, 'alert was', 'alerts were')} part of it.`;
  const calls =
    endedAt !== null || unanswered.length === 0
      ? ''
      : ` Nobody has answered. Whose turn it was: ${unanswered.join(', ')}.`;
  const said = ending === '' ? '' : ` ${ending.replace(/[.]?$/, '.')}`;
  return { id, title, words: `${listed(systems.map(({ name }) => name))}, ${span}.${said}${calls}${part}` };
}
