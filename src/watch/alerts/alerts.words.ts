import type { Alert, ExplainedAlert } from '../../alerts/alerts.ts';
import type { AlertEvent } from '../../alerts/changes.ts';
import type { Amount, Answer, Evidence, LargeFigure } from '../../alerts/finding.ts';
import { stepsOf } from '../../alerts/steps.ts';
import { capitalized, lowered } from '../../platform/words/capitals.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { timeWords, whenWords } from '../../platform/words/times.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { buttonOf } from '../actions/actions.rules.ts';

/** "15.0 mg/L as NO₃". */
export const valueWithUnit = ({ text, unit }: Amount): string => (unit === '' ? text : `${text} ${unit}`);

/** A source as a sentence. */
export function sentence(text: string): string {
  const trimmed = text.trim();
  const ended = trimmed === '' || /[.!?]$/.test(trimmed) ? trimmed : `${trimmed}.`;
  return capitalized(ended);
}

/** Of several alerts on one subject the first: a lot beneath bright lamps is alertRow once, not again for how it looks. */
export function onePerSubject<One extends Pick<Alert, 'subjectId'>>(alerts: readonly One[]): One[] {
  const seen = new Set<string>();
  return alerts.filter(({ subjectId }) => !seen.has(subjectId) && seen.add(subjectId));
}

const kinds: Record<string, string> = {
  opened: 'Opened',
  worse: 'Got worse',
  better: 'Got better',
  acted: 'Acted on',
  seen: 'Seen',
  put_off: 'Put off',
  back: 'Came back',
  cleared: 'Cleared',
};

/** One line of an alert's history. */
export function eventEntry({ at, kind, detail, who }: AlertEvent, zone: { timeZone: string; now: Date }) {
  const said = (name: string) => (typeof detail[name] === 'string' ? (detail[name] as string) : '');
  const until = said('until');
  const note = [
    said('numbers'),
    said('what'),
    said('by'),
    until === '' ? '' : `until ${whenWords(until, zone.timeZone, zone.now)}`,
    said('reason'),
    said('because'),
  ];
  const alertJson = note.filter((text) => text !== '').join(': ');
  return { at, what: kinds[kind] ?? kind, who: who ?? '', note: alertJson, href: '', voided: false };
}

const pages: Partial<Record<Evidence['kind'], (id: string) => string>> = {
  reading: (id) => `/water/readings/${id}`,
};

/** The evidence of an alert, with the page of each where it has one; else the page of its subject. */
export function evidenceRows({ finding }: Alert) {
  return finding.evidence.map(({ kind, id, at, text, note }) => ({
    kind: sentence(kind).replace('.', ''),
    at: new Date(at),
    text,
    note,
    href: pages[kind]?.(id) ?? '',
  }));
}

/** What was done about an alert, with its times as moments. */
export const answerTimes = ({ at, dueAt, confirmedAt, ...answer }: Answer) => ({
  ...answer,
  at: new Date(at),
  dueAt: new Date(dueAt),
  confirmedAt: confirmedAt === null ? null : new Date(confirmedAt),
});

/** An alert in a list: `explains` are those it accounts for. */
export function alertRow(alert: Alert, explains: readonly ExplainedAlert[]) {
  const { id, severity, title, finding, openedAt, quietSince, seenAt, seenBy } = alert;
  const { numbers, said, why, question } = finding;
  const answer = finding.answer ?? null;
  return {
    id,
    severity,
    title,
    numbers,
    said,
    why,
    steps: stepsOf(finding),
    question,
    answer: answer === null ? null : answerTimes(answer),
    openedAt,
    quietSince,
    seenAt,
    seenBy,
    explains: onePerSubject(explains).map((one) => ({
      id: one.id,
      severity: one.severity,
      title: one.title,
    })),
    large: largeFigure(finding),
    button: buttonWords(alert),
    putOffUntil: alert.putOffUntil,
    putOffReason: alert.putOffReason,
    putOffBy: alert.putOffBy,
  };
}

/** What the button of an alert says that leads to what is done about it. */
export const buttonWords = ({ rule, facet, subjectType, finding }: Alert): string =>
  buttonOf({
    ...{ rule, facet, changes: finding.changes ?? null, advice: finding.advice ?? [] },
    ...{ subject: { type: subjectType }, limit: finding.limit },
  });

/** True where the figures beside the title say no more than the large one. */
export function repeatsLarge(finding: Alert['finding']): boolean {
  const large = largeFigure(finding);
  const bare = (text: string) => text.replace(/[^\p{L}\d.]+/gu, '');
  return large !== null && bare(`${large.text}${large.unit}${large.more}`) === bare(finding.numbers);
}

/** The figure that says it at a glance; null where the alert has none worth standing alone. */
export function largeFigure({ large, number }: Alert['finding']): LargeFigure | null {
  if (large) return large;
  if (number.text === '' || number.label === '') return null;
  const more = lowered(number.label);
  // "0.6 dKH a day, used a day": the words beside it say the day.
  const [, amount, unit] = / a day$/.test(more) ? (/^([\d.,]+) (.+) a day$/.exec(number.text) ?? []) : [];
  if (amount !== undefined && unit !== undefined) return { text: amount, unit, more };
  // "4 days there": the word says the unit.
  if (!more.startsWith('days ')) return { text: number.text, unit: number.unit, more };
  return { text: number.text, unit: '', more: number.text === '1' ? more.replace('days', 'day') : more };
}

/** "for 16 days", "for 3 hours", within the first hour "since 14:05"; "cleared" once it is over. */
export function forWords(
  { openedAt, clearedAt }: Pick<Alert, 'openedAt' | 'clearedAt'>,
  { timeZone, now }: { timeZone: string; now: Date },
): string {
  if (clearedAt !== null) return 'cleared';
  const days = Math.floor(daysBetween(openedAt, now));
  if (days >= 1) return `for ${plural(days, 'day', 'days')}`;
  const hours = Math.floor(daysBetween(openedAt, now) * 24);
  return hours >= 1 ? `for ${plural(hours, 'hour', 'hours')}` : `since ${timeWords(openedAt, timeZone)}`;
}

/** Whether a finding's rank is how far its figure lies beyond its limit, above it or below it. */
function isRankedByLimit({ number, limit, score }: Alert['finding']): boolean {
  if (number.value <= 0 || limit.value <= 0) return false;
  const ratio = number.value / limit.value;
  return [ratio, 1 / ratio].some((one) => Math.abs(one - score) < 0.02 * score);
}

/**
 * How sure it is, in a grower's words: by the figure of it where the finding has one, else by how far the limit is passed;
 * '' where its rank comes of something else.
 */
export function sureWords(finding: Alert['finding']): string {
  const { doubted, figures, score } = finding;
  if (doubted) return 'one reading, not yet repeated';
  const chance = figures.find(({ label }) => label.startsWith('Chance or real'));
  if (chance !== undefined) return chance.text;
  if (!isRankedByLimit(finding)) return '';
  return score >= 2 ? 'far beyond the limit' : score >= 1 ? 'beyond the limit' : 'near the limit';
}

/** A score that grew by this part is worse: what the comparison of alerts asks for. */
const worseBy = 1.25;

/** What would bring an alert back that is put off: the figure where it goes with the score, else in words. */
export function worseWords({ number, limit, score }: Alert['finding']): string {
  const ratio = limit.value > 0 ? number.value / limit.value : 0;
  const goesWith = number.unit !== '' && number.unit === limit.unit && Math.abs(ratio - score) < 0.02 * score;
  const at = goesWith
    ? ` (${lowered(number.label)} ${numberWords(number.value * worseBy, number.value >= 100 ? 0 : 1)} ${number.unit})`
    : '';
  return `Comes back earlier if it gets a quarter worse${at} or more urgent.`;
}
