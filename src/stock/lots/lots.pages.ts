import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { inputSmall } from '../../platform/units/measures.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { inputAmount, priceOf } from '../../platform/words/money.ts';
import { lotHref } from '../base/lot-href.ts';
import { kindNames } from '../kinds/kinds.ts';
import { doubtOfTradeName, libraryNames, namesToChoose, passName } from '../kinds/name-check.ts';
import { placeOfSlots } from '../places/slots.ts';
import { qualifierChoices } from './identifications.schema.ts';
import { newLotOf, newLotSchema } from './lots.schema.ts';
import { addLot, type FoundLot, findLot } from './lots.ts';

/** Taking a lot in. */
export function lotPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/new', async (request, reply) =>
    showNew(service, request, reply, await freshLot(service, request)),
  );
  app.post(
    '/stock',
    takes(({ now, site }) => newLotSchema(site, now)),
    (request, reply) => postLot(service, request, reply),
  );
}

/** The form as it opens: for some slots, and like another lot, where that is asked. */
async function freshLot(service: Service, request: FastifyRequest): Promise<FormState> {
  const { slot = '', like = '' } = request.query as { slot?: string | string[]; like?: string };
  const { currency, timeZone } = request.site;
  const dayOf = (at: Date) => localDay(at, timeZone);
  const dateIdentified = dayOf(service.now());
  const same = like === '' ? {} : likeLot(await findLot(service.db, like), currency, dayOf, dateIdentified);
  return freshForm({ identifiedBy: '', dateIdentified, slot, ...emptyLot, ...same });
}

/**
 * What another lot has in common with the one that is taken in like it. The day it came goes along where that lot was
 * entered today for an earlier day: both are then of one delivery that is typed in later.
 */
function likeLot(lot: FoundLot, currency: string | null, dayOf: (at: Date) => string, today: string) {
  const { tradeName, origin, permit, sizeMm, priceMinor, kind } = lot;
  const price = priceOf(priceMinor, currency);
  return {
    ...{ kindId: kind.name, tradeName, origin, permit, sizeMm: inputSmall(sizeMm) },
    price: price === null ? '' : inputAmount(price),
    at: dayOf(lot.createdAt) === today && dayOf(lot.arrivedAt) !== today ? dayOf(lot.arrivedAt) : '',
  };
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
  asTyped: '',
};

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, form: FormState) {
  const asked = [form.typed.slot ?? '']
    .flatMap((typed) => String(typed).split(','))
    .filter((id) => z.uuid().safeParse(id).success);
  const [kinds, place] = await Promise.all([kindNames(service.db), placeOfSlots(service.db, asked)]);
  const slots = place === '' ? [] : asked;
  const today = localDay(service.now(), request.site.timeZone);
  // A form that was sent by hand may lack fields; the page draws them empty.
  const whole = { ...form, typed: { ...emptyLot, identifiedBy: '', dateIdentified: today, ...form.typed } };
  const names = namesToChoose(await libraryNames(service.db));
  const { currency } = request.site;
  const data = { kinds, names, slots, place, currency, qualifiers: qualifierChoices, today };
  return showPage(service, request, reply, 'stock/new', data, {
    title: 'Take in a lot',
    area: 'stock',
    form: whole,
  });
}

async function postLot(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: newLotSchema(request.site, service.now()),
    act: async (work: Work, value) => {
      await passName(work.tx, { ...value, name: value.scientificName });
      const lot = await addLot(work, newLotOf(value, request.site.id));
      return { ...lot, doubt: await doubtOfTradeName(work.tx, value) };
    },
    done: ({ code, doubt }) => ({
      to: `${lotHref(code)}/card`,
      ...(doubt === '' ? {} : { notice: `Look at the name. ${doubt}` }),
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}
