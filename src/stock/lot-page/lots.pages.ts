import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Work } from '../../platform/change.ts';
import { localDay } from '../../platform/days.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { sayCode } from '../base/codes.ts';
import { lotHref } from '../base/lot-href.ts';
import { kindChoices } from '../kinds/kinds.ts';
import { qualifierChoices } from '../lots/identifications.schema.ts';
import { lotEditSchema, type NewLotForm, newLotSchema } from '../lots/lots.schema.ts';
import { addLot, editLot, findLot, type NewLot } from '../lots/lots.ts';
import { findSlot } from '../places/slots.ts';
import { type LotForm, lotForm } from './frame.ts';

/** Taking lots in, and what is said of them. */
export function lotPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/new', (request, reply) => showNew(service, request, reply, freshLot(service, request)));
  app.post('/stock', (request, reply) => postLot(service, request, reply));
  app.get('/stock/:code/card', (request, reply) => showCard(service, request, reply));
  lotForm(app, service, detailsForm);
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
  const data = { kinds, slot, qualifiers: qualifierChoices, today };
  return showPage(service, request, reply, 'stock/new', data, {
    title: 'Take in a lot',
    area: 'stock',
    form: whole,
  });
}

/** What the form says as the operation takes it. */
export function newLotOf(typed: NewLotForm, siteId: string): NewLot {
  const { at, slot, scientificName, identificationQualifier, identifiedBy, dateIdentified, ...rest } = typed;
  const opinion = { scientificName, identificationQualifier, identifiedBy, dateIdentified };
  const identification = scientificName === '' ? null : { ...opinion, identificationRemarks: '' };
  return { ...rest, siteId, arrivedAt: at, slotIds: slot, identification };
}

async function postLot(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: newLotSchema(request.site.timeZone, service.now()),
    act: (work: Work, value) => addLot(work, newLotOf(value, request.site.id)),
    done: ({ code }) => ({ to: `${lotHref(code)}/card` }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showCard(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const lot = await findLot(service.db, (request.params as { code: string }).code);
  const placed = await service.db.placement.count({ where: { lotId: lot.id, toAt: null } });
  const { code, kind, pieces, parent, cutInto } = lot;
  const from = parent === null ? '' : `${cutInto === null ? 'Split off' : 'Cut from'} ${parent.code}`;
  const data = { code, said: sayCode(code), kind: kind.name, pieces, from, placed: placed > 0 };
  return showPage(service, request, reply, 'stock/card', data, { title: `Code ${code}`, area: 'stock' });
}

const detailsForm: LotForm<typeof lotEditSchema, void> = {
  page: 'details',
  noun: 'details',
  view: 'stock/details',
  title: () => 'What is said of it',
  schema: () => lotEditSchema,
  fresh: ({ lot }) => {
    const { kindId, sizeMm, origin, permit, note, version } = lot;
    const ticks = { isMother: lot.isMother ? 'yes' : '', staysPut: lot.staysPut ? 'yes' : '' };
    const quarantineUntil = lot.quarantineUntil?.toISOString().slice(0, 10) ?? '';
    return { kindId, sizeMm, origin, permit, note, version, ...ticks, quarantineUntil };
  },
  data: async ({ service }) => ({ kinds: await kindChoices(service.db) }),
  act: (work, { lot }, edit) => editLot(work, lot.id, edit),
  done: (_, { lot }) => ({ to: lotHref(lot.code), notice: `${lot.code} is changed.` }),
};
