import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import {
  type Alert,
  actOnAlert,
  clearedAlerts,
  explainedBy,
  findAlert,
  historyOf,
  openAlerts,
  putOffAlert,
  seeAlert,
  takeBackPostponement,
} from '../../alerts/alerts.ts';
import { laterSteps, stepsOf } from '../../alerts/steps.ts';
import type { Severity } from '../../generated/prisma/enums.ts';
import { localDay } from '../../platform/days.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import type { Figure } from '../../platform/words/figures.ts';
import { plural } from '../../platform/words/numbers.ts';
import { daysAfter, daysBefore } from '../../science/numeric/time.ts';
import { isCorrectable } from '../../water/dosing/substances.rules.ts';
import { routineChangeWords, routineHref } from '../../water/nutrients/plan.rules.ts';
import { listRoutines } from '../../water/routines/routines.ts';
import { putOffWords } from '../../water/systems/state.rules.ts';
import { findWaterSystem } from '../../water/systems/systems.ts';
import { ruleNamed } from '../rules/registry.ts';
import { actSchema, lastDay, postponementSchema } from './alerts.schema.ts';
import {
  alertRow,
  answerTimes,
  eventEntry,
  evidenceRows,
  onePerSubject,
  sentence,
  valueWithUnit,
} from './alerts.words.ts';

/** What is open, one alert with what it rests on, and what people do about it. */
export function alertPages(app: FastifyInstance, service: Service): void {
  app.get('/watch', (request, reply) => showWatch(service, request, reply));
  app.get('/watch/:id', (request, reply) => showAlert(service, request, reply));
  app.post('/watch/:id/sight', (request, reply) => postSight(service, request, reply));
  app.post('/watch/:id/act', (request, reply) => postAct(service, request, reply));
  app.post('/watch/:id/postponement', (request, reply) => postPostponement(service, request, reply));
  app.post('/watch/:id/return', (request, reply) => postReturn(service, request, reply));
}

const clearedDays = 14;
const clearedShown = 30;

async function showWatch(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { pool } = service;
  const now = service.now();
  const siteId = request.site.id;
  const since = daysBefore(now, clearedDays);
  const [open, cleared] = await Promise.all([
    openAlerts(pool, { siteId }),
    clearedAlerts(pool, { siteId, since, most: clearedShown }),
  ]);
  const explained = Map.groupBy(open, ({ causeId }) => causeId);
  const roots = open
    .filter(({ causeId }) => causeId === null)
    .map((alert) => ({
      ...alertRow(alert, explained.get(alert.id) ?? []),
      partOf: partOf(request, alert),
    }));
  const isOff = ({ putOffUntil }: { putOffUntil: Date | null }) => putOffUntil !== null && putOffUntil > now;
  const shown = roots.filter((alert) => !isOff(alert));
  const offTimes = roots
    .flatMap((alert) => (isOff(alert) ? (alert.putOffUntil ?? []) : []))
    .sort((a, b) => a.getTime() - b.getTime());
  const data = {
    ...leadOf(siteId, shown, putOffWords(offTimes, { timeZone: request.site.timeZone, now })),
    shown,
    putOff: roots.filter(isOff),
    cleared,
    clearedDays,
  };
  return showPage(service, request, reply, 'watch/watch', data, { title: 'Watch', area: 'watch' });
}

/** What is wrong now that this alert is part of; null where it stands by itself. */
const partOf = (request: FastifyRequest, { systemId }: { systemId: string }) =>
  request.pageContext.emergencies.find(({ systemIds }) => systemIds.includes(systemId)) ?? null;

/** What is open in a line, with its counts. */
function leadOf(siteId: string, shown: readonly { severity: string }[], putOff: string) {
  if (shown.length === 0)
    return { lead: putOff === '' ? 'No alerts.' : `No other alerts; ${putOff}.`, counts: [] };
  const count = (severity: Severity, words: (n: number) => string): Figure[] => {
    const value = shown.filter((alert) => alert.severity === severity).length;
    return value === 0 ? [] : [{ name: `alerts.${severity}`, of: siteId, value, text: words(value) }];
  };
  const counts = [
    ...count('now', (n) => `${plural(n, 'thing', 'things')} to act on now`),
    ...count('today', (n) => `${plural(n, 'thing', 'things')} for today`),
    ...count('watch', (n) => `${n} to watch`),
  ];
  return {
    lead: `${[...counts.map(({ text }) => text), putOff].filter((part) => part !== '').join(', ')}.`,
    counts,
  };
}

const alertId = (request: FastifyRequest) => pathId(request, 'id', 'This alert');

async function showAlert(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const { pool } = service;
  const zone = { timeZone: request.site.timeZone, now: service.now() };
  const alert = await findAlert(pool, alertId(request));
  const [history, explains, cause, change] = await Promise.all([
    historyOf(pool, alert.id),
    explainedBy(pool, alert.id),
    alert.causeId === null ? null : findAlert(pool, alert.causeId),
    routineChangeOf(service, alert, zone.now),
  ]);
  const form = refused ?? freshForm({ until: '', reason: '', what: '' });
  const overSince = alert.quietSince ?? alert.clearedAt;
  const data = {
    alert: { ...alert, ...wordsOf(alert) },
    steps: stepsOf(alert.finding),
    later: laterSteps(alert.finding),
    partOf: alert.clearedAt === null ? partOf(request, alert) : null,
    answer: alert.finding.answer ? answerTimes(alert.finding.answer) : null,
    open: alert.clearedAt === null,
    over: overSince !== null,
    overSince,
    putOff: alert.putOffUntil !== null && alert.putOffUntil > zone.now,
    cause,
    change,
    explains: onePerSubject(explains),
    evidence: evidenceRows(alert),
    history: history.map((event) => eventEntry(event, zone)),
    days: {
      first: localDay(daysAfter(zone.now, 1), zone.timeZone),
      last: lastDay(zone.timeZone, zone.now),
    },
    plainKey: freshForm().key,
    actKey: freshForm().key,
  };
  return showPage(service, request, reply, 'watch/alert', data, { title: alert.title, area: 'watch', form });
}

/** The water changes that an alert asks for as a change of the routine; null where it asks for none. */
async function routineChangeOf({ db, pool }: Service, { finding, systemId }: Alert, now: Date) {
  const { changes, said = [], firstStep } = finding;
  // What has to wait for something else is not led to.
  const isFirst = said.some(({ name, text }) => name.endsWith('.plan') && firstStep.includes(text));
  if (!changes || !isFirst) return null;
  const [system, { running }] = await Promise.all([
    findWaterSystem(db, systemId),
    listRoutines(pool, [systemId], now),
  ]);
  const planned = running.find(({ plan }) => plan.work === 'water_change') ?? null;
  return {
    href: routineHref(systemId, changes),
    ...routineChangeWords(system, planned, changes),
  };
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

/** Where a level that stands outside its band is corrected; nothing for what is not corrected by adding or exchanging. */
function correctionOf({ rule, facet, systemId }: Alert): string | null {
  if (rule !== 'out-of-band' || !isCorrectable(facet)) return null;
  return `/water/systems/${systemId}/corrections/new?quantity=${facet}`;
}

function wordsOf(alert: Alert) {
  const { finding, rule, subjectType, systemName } = alert;
  const { number, limit, figures } = finding;
  return {
    heading: ruleNamed(rule)?.heading ?? rule,
    watches: ruleNamed(rule)?.watches ?? '',
    subjectPage: subjectPages[subjectType],
    correction: correctionOf(alert),
    figures: [
      { label: number.label, text: valueWithUnit(number) },
      { label: limit.label, text: valueWithUnit(limit), small: sentence(limit.source) },
      ...figures,
      { label: 'System', text: systemName },
    ],
  };
}

async function postSight(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = alertId(request);
  return submit(request, reply, {
    schema: z.object({}),
    act: (work) => seeAlert(work, id),
    done: () => ({ to: `/watch/${id}`, notice: 'Noted that you have seen it.' }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

async function postAct(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = alertId(request);
  return submit(request, reply, {
    schema: actSchema,
    act: (work, { what }) => actOnAlert(work, id, what),
    done: () => ({
      to: `/watch/${id}`,
      notice: 'Saved. The alert asks next for what shows whether it helped.',
    }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

async function postPostponement(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = alertId(request);
  return submit(request, reply, {
    schema: postponementSchema(request.site.timeZone, service.now()),
    act: (work, value) => putOffAlert(work, id, value),
    done: () => ({
      to: `/watch/${id}`,
      notice: 'Put off. It comes back on its day, or earlier if it gets worse.',
    }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

async function postReturn(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = alertId(request);
  return submit(request, reply, {
    schema: z.object({}),
    act: (work) => takeBackPostponement(work, id),
    done: () => ({ to: `/watch/${id}`, notice: 'It stands among the open ones again.' }),
    again: (form) => showAlert(service, request, reply, form),
  });
}
