import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { localDay } from '../../platform/days.ts';
import type { Service } from '../../platform/service.ts';
import { showPage } from '../../platform/web/pages.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { listed } from './schedule.pages.ts';
import { type PlannedRound, plannedRounds } from './schedule.ts';

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
  const days = [...Map.groupBy(rounds.toReversed(), (round) => round.day)].map(([day, list]) => ({
    day,
    rounds: list.map(listed),
  }));
  const data = { weeks: WEEKS, days, plans: tallies(rounds) };
  return showPage(service, request, reply, 'rounds/past', data, { title: 'Past rounds', area: 'rounds' });
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
