import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Work } from '../../platform/change.ts';
import { localDay } from '../../platform/days.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { lotHref } from '../base/lot-href.ts';
import { kindChoices } from '../kinds/kinds.ts';
import { findSlot } from '../places/slots.ts';
import { qualifierChoices } from './identifications.schema.ts';
import { newLotOf, newLotSchema } from './lots.schema.ts';
import { addLot } from './lots.ts';

/** Taking a lot in. */
export function lotPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/new', (request, reply) => showNew(service, request, reply, freshLot(service, request)));
  app.post('/stock', (request, reply) => postLot(service, request, reply));
}

function freshLot(service: Service, request: FastifyRequest): FormState {
  const { slot = '' } = request.query as { slot?: string };
  return freshForm({
    identifiedBy: '',
    dateIdentified: localDay(service.now(), request.site.timeZone),
    slot,
    ...emptyLot,
  });
}

const emptyLot = {
  ownCode: '',
  tradeName: '',
  price: '',
  kindId: '',
  pieces: '',
  origin: '',
  permit: '',
  sizeMm: '',
  isMother: '',
  note: '',
  at: '',
  scientificName: '',
  identificationQualifier: '',
};

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, form: FormState) {
  const slotId = [form.typed.slot ?? ''].flat()[0] ?? '';
  const [kinds, slot] = await Promise.all([kindChoices(service.db), findSlot(service.db, slotId)]);
  const today = localDay(service.now(), request.site.timeZone);
  // A form that was sent by hand may lack fields; the page draws them empty.
  const whole = { ...form, typed: { ...emptyLot, identifiedBy: '', dateIdentified: today, ...form.typed } };
  const data = { kinds, slot, currency: request.site.currency, qualifiers: qualifierChoices, today };
  return showPage(service, request, reply, 'stock/new', data, {
    title: 'Take in a lot',
    area: 'stock',
    form: whole,
  });
}

async function postLot(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: newLotSchema(request.site, service.now()),
    act: (work: Work, value) => addLot(work, newLotOf(value, request.site.id)),
    done: ({ code }) => ({ to: `${lotHref(code)}/card` }),
    again: (form) => showNew(service, request, reply, form),
  });
}
