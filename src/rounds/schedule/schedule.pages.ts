import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { localDay } from '../../platform/days.ts';
import type { Service } from '../../platform/service.ts';
import { freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { beginSchema } from '../round/walks.schema.ts';
import { beginWalk } from '../round/walks.ts';
import { lengthWords } from '../screens/durations.ts';
import { roundPath } from '../screens/screens.ts';
import { cancelledOn, missedRounds, type PlannedRound, todaysRounds } from './schedule.ts';

/** Today's rounds, and what was missed of the last days. */
export function roundPages(app: FastifyInstance, service: Service): void {
  app.get('/rounds', (request, reply) => showRounds(service, request, reply));
  app.post('/rounds', (request, reply) => postRound(service, request, reply));
}

/** A round as a list shows it. */
export function listed(round: PlannedRound) {
  const { startedAt, finishedAt } = round;
  return {
    ...round,
    href: round.roundId === null ? null : roundPath(round.roundId),
    key: freshForm().key,
    took: startedAt === null || finishedAt === null ? null : lengthWords(startedAt, finishedAt),
  };
}

async function showRounds(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const [today, missed, cancelled] = await Promise.all([
    todaysRounds(service.pool, request.site.id, now),
    missedRounds(service.pool, request.site.id, now),
    cancelledOn(service.pool, request.site.id, localDay(now, request.site.timeZone)),
  ]);
  const data = {
    today: today.map(listed),
    missed: missed.map(listed),
    cancelled,
    mayPlan: request.person.role !== 'hand',
  };
  return showPage(service, request, reply, 'rounds/rounds', data, { title: 'Rounds', area: 'rounds' });
}

async function postRound(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: beginSchema,
    act: (work, value) => beginWalk(work, request.site, value),
    done: ({ id }) => ({ to: roundPath(id) }),
    again: (form) => {
      request.session.set('notice', form.errors[0]?.message ?? 'Choose a round of the list.');
      return showRounds(service, request, reply);
    },
  });
}
