import { numberWords, plural } from '../platform/words.ts';
import type { Readiness } from '../stock/readiness.ts';
import type { DueTask } from '../water/due.ts';
import { type Quantity, say, sayDifference } from '../water/quantities.ts';
import type { DigestAlert, DigestChange, DigestContent, DigestWork } from './content.ts';
import type { AlertEventFacts, StockFacts, SystemFacts } from './facts.ts';

const counting = ['Nothing', 'One', 'Two', 'Three', 'Four', 'Five', 'Six', 'Seven', 'Eight', 'Nine'];
const small = (n: number) => counting[n] ?? String(n);

/** "Two things today, one of them now"; what is only watched does not count. */
export function headline(alerts: readonly DigestAlert[]): string {
  const now = alerts.filter((alert) => alert.severity === 'now').length;
  const today = alerts.filter((alert) => alert.severity === 'today').length;
  const all = now + today;
  if (all === 0) return 'Nothing asks for a decision today';
  const things = `${small(all)} ${all === 1 ? 'thing' : 'things'}`;
  if (today === 0) return `${things} now`;
  return now === 0 ? `${things} today` : `${things} today, ${small(now).toLowerCase()} of them now`;
}

const listed = (names: readonly string[]) =>
  names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;

/** One sentence on what is quiet, one on the count of pieces. */
export function lead(systems: readonly SystemFacts[], stock: StockFacts): string {
  const quiet = systems.filter((system) => system.alerts === 0).map((system) => system.name);
  const said = quiet.length === 0 ? '' : `${listed(quiet)} ${quiet.length === 1 ? 'is' : 'are'} quiet. `;
  const net = stock.changes.reduce((sum, change) => sum + change.pieces, 0);
  const than =
    net === 0
      ? 'as many as yesterday'
      : `${numberWords(Math.abs(net))} ${net < 0 ? 'fewer' : 'more'} than yesterday`;
  return `${said}${plural(stock.pieces, 'piece', 'pieces')} in ${plural(stock.lots, 'lot', 'lots')}, ${than}.`;
}

const told: Record<string, DigestChange['kind']> = {
  opened: 'New',
  worse: 'Worse',
  better: 'Better',
  cleared: 'Cleared',
  put_off: 'Put off',
  back: 'Back',
};

/**
 * What changed, each alert once by its last change; one that opened and cleared in between is told as cleared. What is
 * new and open stands above among the alerts already and is left out here.
 */
export function changes(events: readonly AlertEventFacts[], open: readonly DigestAlert[]): DigestChange[] {
  const openIds = new Set(open.map((alert) => alert.id));
  const last = new Map(
    events.filter((event) => told[event.kind] !== undefined).map((event) => [event.alertId, event]),
  );
  return [...last.values()]
    .map(({ alertId, kind, title }) => ({ kind: told[kind] ?? 'New', title, alertId }))
    .filter((change) => !(change.kind === 'New' && openIds.has(change.alertId)));
}

/** "8.3 dKH, swung 0.3 in 7 days; nitrate 7.6 mg/L as NO₃". */
export function systemWords(system: SystemFacts, quantities: readonly Quantity[]): string {
  const part = (code: string, name: string) => {
    const quantity = quantities.find((one) => one.code === code);
    const latest = system.latest.find((one) => one.quantityCode === code);
    if (quantity === undefined || latest === undefined) return null;
    const swing =
      code === 'alkalinity' && system.swing !== null
        ? `, swung ${sayDifference(quantity, system.swing, latest.value)} in 7 days`
        : '';
    return `${name}${say(quantity, latest.value, latest.below)}${swing}`;
  };
  const parts = [part('alkalinity', ''), part('nitrate', 'nitrate '), part('temperature', '')].filter(
    (one) => one !== null,
  );
  const state = system.alerts === 0 ? 'quiet' : plural(system.alerts, 'open alert', 'open alerts');
  return [state, ...parts].join('; ');
}

const reasonWords: Record<string, [string, string]> = {
  received: ['piece received', 'pieces received'],
  cut_in: ['new piece cut', 'new pieces cut'],
  cut_out: ['piece given for cutting', 'pieces given for cutting'],
  lost: ['piece lost', 'pieces lost'],
  sold: ['piece sold', 'pieces sold'],
  recount: ['by recount', 'by recount'],
};

/** Losses, sales, arrivals and recoveries since the last digest; empty when there were none. */
export function stockLines({ changes: summed, recovered }: StockFacts): string[] {
  const counted = summed.flatMap(({ reason, pieces }) => {
    const words = reasonWords[reason];
    if (words === undefined || pieces === 0) return [];
    return plural(Math.abs(pieces), ...words);
  });
  return recovered.length === 0
    ? counted
    : [...counted, `${listed(recovered)} ${recovered.length === 1 ? 'looks' : 'look'} well again`];
}

/** More than a quarter of an hour after its hour, a digest says why it is late. */
export function lateWords(due: Date, now: Date, clock: string): string {
  const minutes = Math.round((now.getTime() - due.getTime()) / 60_000);
  if (minutes <= 15) return '';
  const hours = Math.floor(minutes / 60);
  return `Due at ${clock}, made ${hours > 0 ? `${hours} h ${minutes % 60} min` : `${minutes} min`} later: the service was not running then.`;
}

/** How many lots nothing speaks against selling, and their free pieces. */
export function readySum(lots: readonly Readiness[]): DigestContent['ready'] {
  const ready = lots.filter(({ reasons }) => reasons.length === 0);
  return { lots: ready.length, pieces: ready.reduce((sum, lot) => sum + lot.pieces - lot.held, 0) };
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
    return { at: '', where: first.systemName, what: parts.join('; '), who: '', href };
  });
}

function dueWords({ title, held, overdueDays }: DueTask): string {
  if (held !== null) return `${title} (held back: ${held})`;
  return overdueDays === 0 ? title : `${title} (${plural(overdueDays, 'day', 'days')} overdue)`;
}
