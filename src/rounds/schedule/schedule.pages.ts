import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { isManager } from '../../platform/web/access.ts';
import { freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { beginSchema } from '../round/rounds.schema.ts';
import { beginRound } from '../round/rounds.ts';
import { durationWords, rackPath, roundPath } from '../screens/screens.ts';
import { cancelledOn, missedOf, ofToday, openFirst, type PlannedRound, plannedRounds } from './schedule.ts';

/** Today's rounds, and what was missed of the last days. */
export function roundPages(app: FastifyInstance, service: Service): void {
  app.get('/rounds', (request, reply) => showRounds(service, request, reply));
  app.post('/rounds', takes(beginSchema), (request, reply) => postRound(service, request, reply));
}

/** A round as a list shows it. */
export function roundRow(round: PlannedRound) {
  const { startedAt, finishedAt } = round;
  return {
    ...round,
    href: round.roundId === null ? null : roundPath(round.roundId),
    key: freshForm().key,
    took: startedAt === null || finishedAt === null ? null : durationWords(startedAt, finishedAt),
  };
}

async function showRounds(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const [planned, cancelled] = await Promise.all([
    plannedRounds(service.pool, request.site.id, now),
    cancelledOn(service.pool, request.site.id, localDay(now, request.site.timeZone)),
  ]);
  const data = {
    today: openFirst(ofToday(planned)).map(roundRow),
    missed: missedOf(planned).map(roundRow),
    cancelled,
    mayPlan: isManager(request.person.role),
  };
  return showPage(service, request, reply, 'rounds/rounds', data, { title: 'Rounds', area: 'rounds' });
}

async function postRound(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: beginSchema,
    act: (work, value) => beginRound(work, request.site, value),
    done: ({ id, firstRackId }) => ({ to: firstRackId === null ? roundPath(id) : rackPath(id, firstRackId) }),
    again: (form) => {
      request.session.set('notice', form.errors[0]?.message ?? 'Choose a round of the list.');
      return showRounds(service, request, reply);
    },
  });
}

/** The rounds of the last weeks: walked, missed, never finished. */
export function pastPages(app: FastifyInstance, service: Service): void {
  app.get('/rounds/past', (request, reply) => showPast(service, request, reply));
}

const WEEKS = 4;

async function showPast(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id, timeZone } = request.site;
  const now = service.now();
  const today = localDay(now, timeZone);
  const rounds = (await plannedRounds(service.pool, id, now, 7 * WEEKS)).filter(({ day }) => day <= today);
  const days = [...Map.groupBy(rounds.toReversed(), (round) => round.day)].map(([day, list], at) => ({
    day,
    isLatest: at === 0,
    answer: dayAnswer(list),
    rounds: list.map(roundRow),
  }));
  const data = { weeks: WEEKS, days, plans: tallies(rounds) };
  return showPage(service, request, reply, 'rounds/past', data, { title: 'Past rounds', area: 'rounds' });
}

/** "3 rounds finished", "2 finished, 1 missed": a day in a few words. */
function dayAnswer(list: readonly PlannedRound[]): string {
  const count = (state: PlannedRound['state']) => list.filter((round) => round.state === state).length;
  const said = [
    { words: 'finished', rounds: count('finished') },
    { words: 'missed', rounds: count('missed') },
    { words: 'never finished', rounds: count('unfinished') },
  ].filter(({ rounds }) => rounds > 0);
  return said.length === 0
    ? 'still to come'
    : said.map(({ words, rounds }) => `${rounds} ${words}`).join(', ');
}

/** How often each plan was walked and missed, and how long it usually took. */
function tallies(rounds: readonly PlannedRound[]) {
  return [...Map.groupBy(rounds, (round) => round.planId).values()].map((list) => {
    const minutes = list
      .filter(({ startedAt, finishedAt }) => startedAt !== null && finishedAt !== null)
      .map(({ startedAt, finishedAt }) => Number(finishedAt) - Number(startedAt))
      .sort((a, b) => a - b);
    const middle = minutes[minutes.length >> 1];
    return {
      name: list[0]?.name ?? '',
      finished: list.filter(({ state }) => state === 'finished').length,
      missed: list.filter(({ state }) => state === 'missed').length,
      unfinished: list.filter(({ state }) => state === 'unfinished').length,
      usually: middle === undefined ? '' : String(Math.round(middle / minuteMs)),
    };
  });
}
