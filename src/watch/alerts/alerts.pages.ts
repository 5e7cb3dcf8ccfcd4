import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import {
  type Alert,
  type AlertRoot,
  alertsWithExplained,
  clearedAlerts,
  findAlert,
  openRoots,
} from '../../alerts/alerts.ts';
import {
  actOnAlert,
  postponementStanding,
  putOffAlert,
  seeAlert,
  takeBackPostponement,
} from '../../alerts/changes.ts';
import { watchGapsNow } from '../../alerts/gaps/gaps.ts';
import type { Severity } from '../../generated/prisma/enums.ts';
import { type SmallPicture, smallChart } from '../../platform/charts/small-chart.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { pagerOf } from '../../platform/views/pager.ts';
import { pageQuery } from '../../platform/web/fields.ts';
import { submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import type { Figure } from '../../platform/words/figures.ts';
import { plural } from '../../platform/words/numbers.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { putOffWords } from '../../water/systems/state.rules.ts';
import { endingOf } from '../answers/answers.rules.ts';
import { type PicturedAlert, smallPictures } from '../pictures/small.ts';
import { headingOf } from '../rules/registry.ts';
import { alertId, showAlert, wrongNow } from './alert-page.ts';
import { actSchema, postponementSchema } from './alerts.schema.ts';
import { alertRow } from './alerts.words.ts';

/** What is open, one alert with its evidence, and what people do about it. */
export function alertPages(app: FastifyInstance, service: Service): void {
  app.get('/watch', (request, reply) => showWatch(service, request, reply));
  app.get('/watch/:id', (request, reply) => showAlert(service, request, reply));
  app.post('/watch/:id/sight', (request, reply) => postSight(service, request, reply));
  app.post('/watch/:id/act', takes(actSchema), (request, reply) => postAct(service, request, reply));
  app.post(
    '/watch/:id/postponement',
    takes(({ timeZone, now }) => postponementSchema(timeZone, now)),
    (request, reply) => postPostponement(service, request, reply),
  );
  app.post('/watch/:id/return', (request, reply) => postReturn(service, request, reply));
}

const clearedDays = 14;
const clearedShown = 30;
/** More alerts than anybody acts on in a sitting stand on the next page. */
const perPage = 24;

async function showWatch(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { pool } = service;
  const now = service.now();
  const siteId = request.site.id;
  const { page } = pageQuery.parse(request.query);
  const since = daysBefore(now, clearedDays);
  const [roots, gaps, cleared] = await Promise.all([
    openRoots(pool, siteId),
    watchGapsNow(pool, request.site, headingOf, now),
    page === 1 ? clearedAlerts(pool, { siteId, since, most: clearedShown }) : [],
  ]);
  const isOff = ({ putOffUntil }: { putOffUntil: Date | null }) => putOffUntil !== null && putOffUntil > now;
  const off = roots.filter(isOff);
  const open = roots.filter((alert) => !isOff(alert));
  const begin = (page - 1) * perPage;
  const asked = [...open, ...off].slice(begin, begin + perPage);
  const rows = await rowsOf(service, request, asked);
  const offTimes = off
    .flatMap(({ putOffUntil }) => putOffUntil ?? [])
    .sort((a, b) => a.getTime() - b.getTime());
  const data = {
    ...leadOf(siteId, open, putOffWords(offTimes, { timeZone: request.site.timeZone, now })),
    shown: rows.filter((alert) => !isOff(alert)),
    putOff: rows.filter(isOff),
    pager: pagerOf({ page, perPage, total: roots.length }, (to) => `/watch${to > 1 ? `?page=${to}` : ''}`),
    gaps,
    cleared,
    clearedDays,
  };
  return showPage(service, request, reply, 'watch/watch', data, { title: 'Alerts', area: 'watch' });
}

/** Some alerts as the list draws them, with what they explain. */
async function rowsOf(service: Service, request: FastifyRequest, asked: readonly AlertRoot[]) {
  const shown = await alertsWithExplained(
    service.pool,
    asked.map(({ id }) => id),
  );
  const pictures = await smallPictures(
    service,
    shown.map(({ alert }) => picturedOf(alert)),
    service.now(),
  );
  return shown.map(({ alert, explains }) => ({
    ...alertRow(alert, explains),
    wrongNow: wrongNow(request, alert),
    svg: pictureOf(pictures.get(alert.id), alert.severity),
  }));
}

const picturedOf = ({ finding, ...alert }: Alert): PicturedAlert => ({
  ...alert,
  lots: finding.lots ?? [],
  began: finding.began ?? null,
  number: finding.number,
  said: finding.said,
});

const pictureOf = (picture: SmallPicture | undefined, tone: Severity): string =>
  picture === undefined ? '' : smallChart(picture, { tone });

/** What is open in a line, with its counts. */
function leadOf(siteId: string, shown: readonly { severity: string }[], putOff: string) {
  if (shown.length === 0) return { lead: `No other alerts; ${putOff}.`, counts: [] };
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

async function postSight(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = alertId(request);
  return submit(request, reply, {
    schema: z.object({}),
    act: (work) => seeAlert(work, id),
    done: () => ({ to: `/watch/${id}`, notice: 'Saved: you have seen it.' }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

async function postAct(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = alertId(request);
  const ends = endingOf(await findAlert(service.pool, id));
  const next = ends === null ? 'asks next for what shows whether it helped' : `ends when ${ends}`;
  return submit(request, reply, {
    schema: actSchema,
    act: (work, { what }) => actOnAlert(work, id, what),
    done: () => ({ to: `/watch/${id}`, notice: `Saved. The alert ${next}.` }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

async function postPostponement(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = alertId(request);
  return submit(request, reply, {
    schema: postponementSchema(request.site.timeZone, service.now()),
    over: postponementStanding(id),
    act: (work, value) => putOffAlert(work, id, value),
    done: () => ({
      to: `/watch/${id}`,
      notice: 'Put off. It comes back on its day, or earlier if it gets worse.',
      undo: `/watch/${id}/return`,
    }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

async function postReturn(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = alertId(request);
  return submit(request, reply, {
    schema: z.object({}),
    act: (work) => takeBackPostponement(work, id),
    done: () => ({ to: `/watch/${id}`, notice: 'It is open again.' }),
    again: (form) => showAlert(service, request, reply, form),
  });
}
