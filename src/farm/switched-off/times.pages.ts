import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { isManager } from '../../platform/web/access.ts';
import { choice } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { spanWords } from './span.words.ts';
import { timesSchema } from './switched-off.schema.ts';
import { thingCodes, things } from './things.rules.ts';
import { setOffTimes, timesInForce, timesStanding } from './times.ts';

/** How long each kind of thing may be off: the service's times, or the farm's own. */
export function offTimePages(app: FastifyInstance, service: Service): void {
  app.get('/farm/switched-off/times', (request, reply) => showTimes(service, request, reply));
  app.post('/farm/switched-off/times', takes(timesSchema), (request, reply) =>
    postTimes(service, request, reply),
  );
  app.post('/farm/switched-off/times/reset', takes(resetBody), (request, reply) =>
    postReset(service, request, reply),
  );
}

const path = '/farm/switched-off/times';

async function showTimes(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const times = await timesInForce(service.pool);
  const data = {
    seen: await seenNow(service.db, timesStanding),
    isManager: isManager(request.person.role),
    times: times.map(({ thing, dueMin, lateMin, reason }) => ({
      thing,
      name: things[thing].name,
      dueMin,
      lateMin,
      due: spanWords(dueMin),
      late: spanWords(lateMin),
      reason,
    })),
    options: thingCodes.map((code) => ({ value: code, text: things[code].name })),
  };
  const form = refused ?? freshForm({ thing: '', dueMin: '', lateMin: '', reason: '' });
  return showPage(service, request, reply, 'farm/off-times', data, { title: 'Times for what is off', form });
}

async function postTimes(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: timesSchema,
    over: timesStanding,
    act: (work, { thing, ...times }) => setOffTimes(work, request.site.id, thing, times),
    done: (_, { thing }) => ({
      to: path,
      notice: `${things[thing].name}: the times are changed. What is off already keeps its times.`,
    }),
    again: (form) => showTimes(service, request, reply, form),
  });
}

const resetBody = z.object({ thing: choice(thingCodes, 'Choose the thing.') });

async function postReset(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: resetBody,
    over: timesStanding,
    act: (work, { thing }) => setOffTimes(work, request.site.id, thing, null),
    done: (_, { thing }) => ({ to: path, notice: `${things[thing].name}: the usual times hold again.` }),
    again: (form) => showTimes(service, request, reply, form),
  });
}
