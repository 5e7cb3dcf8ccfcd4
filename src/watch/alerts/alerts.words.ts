import type { Alert, AlertEvent } from '../../alerts/alerts.ts';
import type { Amount, Answer, Evidence } from '../../alerts/finding.ts';
import { stepsOf } from '../../alerts/steps.ts';
import { whenWords } from '../../platform/words/times.ts';

/** "15.0 mg/L as NO₃". */
export const valueWithUnit = ({ text, unit }: Amount): string => (unit === '' ? text : `${text} ${unit}`);

/** A source as a sentence. */
export function sentence(text: string): string {
  const trimmed = text.trim();
  const ended = trimmed === '' || /[.!?]$/.test(trimmed) ? trimmed : `${trimmed}.`;
  return `${ended.charAt(0).toUpperCase()}${ended.slice(1)}`;
}

/** Of several alerts on one subject the first: a lot beneath bright lamps is alertRow once, not again for how it looks. */
export function onePerSubject(alerts: readonly Alert[]): Alert[] {
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

/** What an alert rests on, with the page of each where it has one; else the page of its subject. */
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
export function alertRow(alert: Alert, explains: readonly Alert[]) {
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
    putOffUntil: alert.putOffUntil,
    putOffReason: alert.putOffReason,
    putOffBy: alert.putOffBy,
  };
}
