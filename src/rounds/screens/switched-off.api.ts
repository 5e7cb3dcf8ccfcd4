import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { moment } from '../../platform/door/answer-parts.ts';
import { answers } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { backOf } from '../../platform/web/back.ts';
import { pageData } from '../../platform/web/pages.ts';

/** What is off for now, for pages that stay open: the banner as it would be drawn now. */
export function switchedOffApi(app: FastifyInstance, service: Service): void {
  app.get('/api/switched-off', answers(offAnswer), (request, reply) =>
    getSwitchedOff(service, request, reply),
  );
}

const offAnswer = z.object({ nowIso: moment, off: z.array(z.string()), html: z.string() });

async function getSwitchedOff(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const page = pageData(service, request, reply, { title: 'Switched off for now' });
  const switchedOff =
    page.switchedOff === null ? null : { ...page.switchedOff, back: backOf(request) ?? '/' };
  reply.header('cache-control', 'no-store');
  return {
    nowIso: service.now().toISOString(),
    off: request.pageContext.switchedOff.map(({ id }) => id),
    html:
      switchedOff === null ? '' : service.views.render('rounds/switched-off', { switchedOff, page }, null),
  };
}
