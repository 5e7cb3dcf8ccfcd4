import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { addressWithin } from '../../platform/web/back.ts';
import { many, optionalText, tick } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { lotsToAsk, sayEmptied } from './emptied-slots.ts';

/** Which slots are empty after pieces of a lot went. */
export function emptiedSlotPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/slots', (request, reply) => show(service, request, reply));
  app.post('/stock/slots', takes(emptiedBody), (request, reply) => post(service, request, reply));
}

const askedQuery = z.object({ rack: z.uuid().nullable().catch(null) });

async function show(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({}),
) {
  const { rack: rackId } = askedQuery.parse({ rack: null, ...(request.query ?? {}) });
  const lots = await lotsToAsk(service.pool, request.site.id, { rackId });
  const data = {
    lots,
    back: rackId === null ? '/stock' : `/racks/${rackId}`,
  };
  return showPage(service, request, reply, 'stock/slots', data, {
    title: 'Empty slots',
    area: 'stock',
    form,
  });
}

const emptiedBody = z.object({
  lot: many()
    .pipe(z.array(z.uuid()).min(1, 'No lot is named. Open the page again.'))
    .describe('Ids of the lots'),
  empty: many().pipe(z.array(z.uuid())).describe('Ids of the slots that are empty'),
  none: tick().describe('"yes": none is empty, whatever else is sent'),
  back: optionalText(300).transform((path) => addressWithin(path) ?? ''),
});

async function post(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: emptiedBody,
    act: (work, { lot, empty, none }) =>
      sayEmptied(work, request.site.id, { lotIds: lot, slotIds: none ? [] : empty }),
    done: (free, { back }) => ({
      to: back === '' ? '/stock/slots' : back,
      notice: free === '' ? 'Noted: no slot is empty.' : `Free now: ${free}.`,
    }),
    again: (form) => show(service, request, reply, form),
  });
}
