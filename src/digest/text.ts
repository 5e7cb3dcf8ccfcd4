import type { Answer } from '../alerts/finding.ts';
import { stepsOf } from '../alerts/steps.ts';
import { type SmallPicture, smallChart } from '../platform/charts/small-chart.ts';
import { sparkline } from '../platform/charts/sparkline.ts';
import { localDay } from '../platform/days.ts';
import type { Service } from '../platform/service.ts';
import { plural } from '../platform/words/numbers.ts';
import { timeWords, whenWords } from '../platform/words/times.ts';
import { daysBefore } from '../science/numeric/time.ts';
import type { DigestAlert, DigestContent, DigestSystem, DigestWork } from './content.ts';
import type { SavedDigest } from './digests.ts';
import type { AlertNow } from './facts.ts';

/** The digest as a letter in plain text. */
export function digestText(service: Service, site: { timeZone: string }, digest: SavedDigest): string {
  const page = { now: digest.madeAt, timeZone: site.timeZone };
  return service.views.render('digest/digest.txt', { digest, ...digestView(digest), page }, null).trim();
}

/** Alerts that are only to be watched: this many are listed, the others counted, so that the digest stays on one page (own choice). */
const watchedShown = 5;

const words = { now: 'Act now', today: 'Today', watch: 'Watch' } as const;
const rank = { watch: 0, today: 1, now: 2 } as const;

/** The content sorted for drawing. */
export function digestView({ content }: Pick<SavedDigest, 'content'>) {
  const of = (severity: string) =>
    content.alerts
      .filter((alert) => alert.severity === severity)
      .map((alert) => ({ ...alert, steps: alert.steps ?? stepsOf(alert) }));
  const groups = [
    { severity: 'now', word: words.now, alerts: of('now') },
    { severity: 'today', word: words.today, alerts: of('today') },
    { severity: 'watch', word: words.watch, alerts: of('watch').slice(0, watchedShown) },
  ].filter((group) => group.alerts.length > 0);
  return { content, groups, unshown: Math.max(0, of('watch').length - watchedShown) };
}

/** "3 rounds, 7 tasks": the work of the day in one line. */
export function workWords(work: readonly DigestWork[]): string {
  const rounds = work.filter(({ at }) => at !== '').length;
  const tasks = work.reduce((sum, { at, count = 1 }) => sum + (at === '' ? count : 0), 0);
  const said = [
    ...(rounds === 0 ? [] : [plural(rounds, 'round', 'rounds')]),
    ...(tasks === 0 ? [] : [plural(tasks, 'task', 'tasks')]),
  ];
  return said.join(', ');
}

/** One matter in a line: how urgent, what, its figure, its picture, and one button; struck through once it is done. */
export interface Matter {
  id: string;
  severity: DigestAlert['severity'];
  word: string;
  title: string;
  large: DigestAlert['large'];
  picture: SmallPicture | null;
  button: string;
  /** "Ravi Sandomil 07:40", "cleared 07:40"; '' while nobody did anything. */
  done: string;
  /** What is still to tell whether what was done helped, as it goes on after "until"; '' where nothing is. */
  until: string;
  /** "Act now since this was made"; '' where it is no more urgent than it was. */
  worse: string;
  /** What the alert says in figures, for a digest made before it kept one. */
  numbers: string;
  said: DigestAlert['said'];
  steps: ReturnType<typeof stepsOf>;
  /** It is about water: a letter gives its steps, since who reads it may be elsewhere. */
  acute: boolean;
}

/** The matters of a digest: those to decide, those only watched, those done; `since`: what became of them meanwhile. */
export function mattersOf(
  { content, madeAt }: Pick<SavedDigest, 'content' | 'madeAt'>,
  { timeZone, now = madeAt, since = [] }: { timeZone: string; now?: Date; since?: readonly AlertNow[] },
): {
  open: Matter[];
  watched: Matter[];
  watchedWords: string;
  done: Matter[];
  unshown: number;
  sinceWords: string;
} {
  const { groups, unshown } = digestView({ content });
  const all = groups
    .flatMap(({ word, alerts }) => alerts.map((alert) => ({ word, alert })))
    .map(({ word: told, alert }): Matter => {
      const { id, title, large = null, picture = null, button = 'Open', numbers, said } = alert;
      const by = since.find((one) => one.id === id);
      const done = doneWords(alert, by, { timeZone, now });
      const until = waitsFor(by, now)?.confirm ?? '';
      const isWorse = by !== undefined && done === '' && rank[by.severity] > rank[alert.severity];
      const severity = isWorse ? by.severity : alert.severity;
      const word = isWorse ? words[severity] : told;
      const worse = isWorse ? `${words[severity]} since this was made` : '';
      const acute = severity === 'now' && alert.about?.quantity != null;
      const shown = { numbers: large === null ? numbers : '', said, steps: alert.steps, acute };
      return { ...{ id, severity, word, title, large, picture, button, done, until, worse }, ...shown };
    });
  const left = all.filter(({ done }) => done === '');
  const watched = left.filter(({ severity }) => severity === 'watch');
  const open = left.filter(({ severity }) => severity !== 'watch');
  return {
    open: open.sort((a, b) => rank[b.severity] - rank[a.severity]),
    watched,
    watchedWords: plural(watched.length + unshown, 'alert', 'alerts'),
    done: all.filter(({ done }) => done !== ''),
    unshown,
    sinceWords: sinceWords(all),
  };
}

/** "Since then one is done and one became worse": what the headline does not know yet; '' where nothing changed. */
function sinceWords(all: readonly Matter[]): string {
  const done = all.filter((one) => one.done !== '' && one.severity !== 'watch').length;
  const worse = all.filter((one) => one.worse !== '').length;
  const waiting = all.filter((one) => one.until !== '' && one.severity !== 'watch').length;
  const over = done - waiting;
  const said = [
    ...(over === 0 ? [] : [`${over} ${over === 1 ? 'is' : 'are'} done or put off`]),
    ...(waiting === 0 ? [] : [`${waiting} ${waiting === 1 ? 'is' : 'are'} acted on and not confirmed`]),
    ...(worse === 0 ? [] : [`${worse} became more urgent`]),
  ];
  return said.length === 0 ? '' : `Since then ${said.join(' and ')}.`;
}

/** What somebody did about an alert that is open, and that nothing has confirmed yet; null where there is none. */
function waitsFor(since: AlertNow | undefined, now: Date): Answer | null {
  const answer = since?.answer ?? null;
  const isOver = since?.clearedAt != null || (since?.putOffUntil ?? now) > now;
  return answer === null || isOver || answer.confirmedAt !== null || answer.overdue ? null : answer;
}

function doneWords(
  { done }: Pick<DigestAlert, 'done'>,
  since: AlertNow | undefined,
  { timeZone, now }: { timeZone: string; now: Date },
): string {
  const today = localDay(now, timeZone);
  const when = (at: string | Date) =>
    localDay(new Date(at), timeZone) === today ? timeWords(at, timeZone) : whenWords(at, timeZone, now);
  if (since?.clearedAt) return `cleared ${when(since.clearedAt)}`;
  if (since?.putOffUntil && since.putOffUntil > now)
    return `${since.putOffBy ?? ''} put off until ${when(since.putOffUntil)}`.trim();
  const answer = waitsFor(since, now);
  if (answer !== null) return `${answer.by} ${when(answer.at)}`.trim();
  return since === undefined && done ? `${done.by} ${when(done.at)}`.trim() : '';
}

/** The picture of a matter as svg; '' where it has none. */
export const matterPicture = ({ picture, severity }: Matter): string =>
  picture === null ? '' : smallChart(picture, { tone: severity });

/** A system in the row: its last alkalinity with the line of 30 days, all lines of one scale. */
export interface SystemCard extends DigestSystem {
  /** "8.6", in the unit that is said once beneath the row; '' where none is known. */
  last: string;
  unit: string;
  svg: string;
}

/** "Alkalinity, dKH, 30 days": what is written once beneath the row of systems. */
export const cardsCaption = (cards: readonly SystemCard[]): string =>
  ['Alkalinity', cards.find(({ unit }) => unit !== '')?.unit ?? '', '30 days']
    .filter((part) => part !== '')
    .join(', ');

/** The systems as small charts beside each other; one of which an alert tells is drawn strong. */
export function systemCards(content: DigestContent, to: Date): SystemCard[] {
  const from = daysBefore(to, 30);
  const spans = content.systems.map(({ trend }) => {
    const values = trend.map(({ value }) => value);
    return values.length === 0 ? 0 : Math.max(...values) - Math.min(...values);
  });
  const span = Math.max(...spans, 1e-6) * 1.15;
  return content.systems.map((system) => {
    const { id, name, trend, band = null, figures = [] } = system;
    const odd = content.alerts.some(({ about }) => about?.systemId === id && about.quantity === 'alkalinity');
    const { unconfirmed = false } = system;
    const points = trend.map(({ at, value }, i) => ({
      at: new Date(at),
      value,
      open: unconfirmed && i === trend.length - 1,
    }));
    const unknown = [unconfirmed ? 'not yet confirmed' : '', system.unknown ?? '']
      .filter((words) => words !== '')
      .join('; ');
    const label = `Alkalinity of ${name} over the last 30 days`;
    const svg =
      points.length < 2
        ? ''
        : sparkline({ points, from, to, label, band, span, strong: odd, width: 200, height: 48 });
    const figure = figures.find((one) => one.name === 'alkalinity.last');
    const text = figure?.text ?? '';
    const [, last = text, unit = ''] = /^((?:[<>] )?[\d.,]+) (.+)$/.exec(text) ?? [];
    return {
      ...system,
      unknown,
      last,
      unit,
      figures: figure === undefined ? [] : [{ ...figure, text: last }],
      svg,
    };
  });
}
