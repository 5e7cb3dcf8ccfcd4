import type { FastifyReply, FastifyRequest } from 'fastify';
import { type Alert, explainedBy, findAlert } from '../../alerts/alerts.ts';
import { type AlertEvent, historyOf, postponementStanding } from '../../alerts/changes.ts';
import { isBeingJudged } from '../../alerts/gaps/being-judged.ts';
import { laterSteps, stepsOf } from '../../alerts/steps.ts';
import { listOnCall } from '../../farm/contacts/contacts.ts';
import { addDays, localDay } from '../../platform/days.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { type Offer, offersOf } from '../actions/offers.ts';
import { endingOf } from '../answers/answers.rules.ts';
import { alertPicture } from '../pictures/pictures.ts';
import { quantityOfAlert } from '../pictures/quantity.rules.ts';
import { headingOf, ruleNamed } from '../rules/registry.ts';
import { lastDay } from './alerts.schema.ts';
import {
  answerTimes,
  buttonWords,
  eventEntry,
  evidenceRows,
  forWords,
  largeFigure,
  onePerSubject,
  repeatsLarge,
  sentence,
  sureWords,
  valueWithUnit,
  worseWords,
} from './alerts.words.ts';
import { nextTestDay } from './next-test.ts';

export const alertId = (request: FastifyRequest) => pathId(request, 'id', 'This alert');

/** What is wrong now in the water of this alert; whether the alert comes of it is not known. Null where nothing is. */
export const wrongNow = (request: FastifyRequest, { systemId }: { systemId: string }) =>
  request.pageContext.emergencies.find(({ systemIds }) => systemIds.includes(systemId)) ?? null;

const blank = {
  ...{
    until: '',
    reason: '',
    watcher: '',
    what: '',
    percent: '',
    label: '',
    lotNumber: '',
  },
  ...{
    found: '',
    again: '',
    since: '',
    givenMl: '',
    note: '',
    value: '',
    unit: '',
    how: '',
    sure: '',
    mended: '',
  },
};

/** What is usually wanted too when lamps are turned down or a kit is opened: ticked until somebody takes it off. */
const usual = { up: 'yes', putAway: 'yes', tests: 'yes' };

/** A form that comes back keeps what was taken off; another form of the page leaves the ticks of these as they were. */
function drawnForm(refused?: FormState): FormState {
  if (refused === undefined) return freshForm({ ...blank, ...usual });
  const ofTheseTicks = 'percent' in refused.typed || 'label' in refused.typed;
  return ofTheseTicks ? refused : { ...refused, typed: { ...usual, ...refused.typed } };
}

/** One alert: what it is about drawn, what is done about it, and its evidence folded beneath. */
export async function showAlert(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const { pool } = service;
  const zone = { timeZone: request.site.timeZone, now: service.now() };
  const alert = await findAlert(pool, alertId(request));
  const open = alert.clearedAt === null;
  const putOff = alert.putOffUntil !== null && alert.putOffUntil > zone.now;
  const [history, explains, cause, onCall, beingJudged] = await Promise.all([
    historyOf(pool, alert.id),
    explainedBy(pool, alert.id),
    alert.causeId === null ? null : findAlert(pool, alert.causeId),
    listOnCall(service.db, request.site.id),
    open && isBeingJudged(pool, alert.systemId),
  ]);
  const looking = { personId: request.person.id, role: request.person.role, ...zone };
  const [picture, offers, testDay] = await Promise.all([
    alertPicture(service, alert, explains, zone),
    open && !putOff ? offersOf(service, alert, looking) : [],
    open && !putOff ? nextTestDay(pool, alert.systemId, quantityOfAlert(alert), zone) : null,
  ]);
  const form = drawnForm(refused);
  const answer = alert.finding.answer ? answerTimes(alert.finding.answer) : null;
  const overSince = alert.quietSince ?? alert.clearedAt;
  const [main = null, ...further] = offers;
  const data = {
    alert: { ...alert, ...wordsOf(alert) },
    title: alert.finding.found?.title ?? alert.title,
    large: largeFigure(alert.finding),
    repeated: repeatsLarge(alert.finding),
    severityWord: severityWords[alert.severity],
    lasts: forWords(alert, zone),
    steps: stepsOf(alert.finding),
    later: laterSteps(alert.finding),
    beingJudged,
    wrongNow: open ? wrongNow(request, alert) : null,
    answer,
    said: answer === null && open ? saidOf(alert, history) : null,
    open,
    over: overSince !== null,
    overSince,
    putOff,
    cause,
    acute: alert.severity === 'now',
    onCall: onCall.map(({ name }) => name).join(', then '),
    picture,
    main,
    further,
    dock: open && !putOff ? dockOf(alert, main) : null,
    explains: onePerSubject(explains),
    evidence: evidenceRows(alert),
    history: history.map((event) => eventEntry(event, zone)),
    putOffs: putOffsOf(testDay, zone),
    worse: worseWords(alert.finding),
    days: {
      first: localDay(daysAfter(zone.now, 1), zone.timeZone),
      last: lastDay(zone.timeZone, zone.now),
    },
    plainKey: freshForm().key,
    actKey: freshForm().key,
    offKey: freshForm().key,
    seen: await seenNow(service.db, postponementStanding(alert.id)),
  };
  return showPage(service, request, reply, 'watch/alert', data, { title: alert.title, area: 'watch', form });
}

/** The button at the foot of a phone: what is done where another page does it, else the way down to its form. */
function dockOf(alert: Alert, main: Offer | null) {
  if (main === null) return { href: '#doing', text: 'What to do' };
  return main.doing === 'link'
    ? { href: main.href, text: main.text }
    : { href: '#doing', text: buttonWords(alert) };
}

const severityWords = { now: 'Act now', today: 'Today', watch: 'Watch' } as const;

/** Days to which an alert is put off with one tap. */
function putOffsOf(testDay: string | null, { timeZone, now }: { timeZone: string; now: Date }) {
  const today = localDay(now, timeZone);
  return [
    { until: addDays(today, 3), text: '3 days' },
    { until: addDays(today, 7), text: 'A week' },
    ...(testDay === null ? [] : [{ until: testDay, text: 'Until the next test' }]),
  ];
}

/** What somebody said was done last, of an alert that asks for no confirmation of it; null where nobody did. */
function saidOf(alert: Alert, history: readonly AlertEvent[]) {
  const ends = endingOf(alert);
  const last = history.find(({ kind }) => kind === 'acted');
  if (ends === null || typeof last?.detail.what !== 'string') return null;
  return { what: last.detail.what, by: last.who, at: last.at, ends };
}

const subjectPages: Record<Alert['subjectType'], string> = {
  system: 'The system’s water',
  lot: 'The lot’s record',
  kit: 'The kit and its checks',
  lamp: 'The lamps’ settings',
  rack: 'The rack',
  tank: 'The tank',
  correction: 'The correction and its steps',
};

function wordsOf(alert: Alert) {
  const { finding, rule, subjectType, systemName } = alert;
  const { number, limit, figures } = finding;
  return {
    heading: headingOf(rule),
    watches: ruleNamed(rule)?.watches ?? '',
    subjectPage: subjectPages[subjectType],
    sure: sureWords(finding),
    figures: [
      { label: number.label, text: valueWithUnit(number) },
      { label: limit.label, text: valueWithUnit(limit), small: sentence(limit.source) },
      ...figures,
      { label: 'System', text: systemName },
    ],
  };
}
