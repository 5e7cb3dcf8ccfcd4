import type { FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import type { FormState } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';

/** Asks again why something is taken back, with what was typed; `what` says what it is and what becomes of it. */
export const askWhyTakenBack =
  (service: Service, request: FastifyRequest, reply: FastifyReply, what: string) => (form: FormState) =>
    showPage(
      service,
      request,
      reply,
      'stock/taking-back',
      { what, action: request.url },
      { title: 'Take this back', area: 'stock', form },
    );
