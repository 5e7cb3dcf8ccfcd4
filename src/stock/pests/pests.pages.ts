import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { choice, chosen, text } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { dateWords } from '../../platform/words/times.ts';
import { pestChoices, pestCode } from './pests.schema.ts';
import { lotsInWater, watchById, watchesOf } from './state.ts';
import { lookForPest, type TemperaturesOf, watchedTemperatures } from './tasks.ts';
import { endingSchema, lookSchema, namingSchema, treatmentSchema } from './treatments.schema.ts';
import { addTreatment, voidEntry } from './treatments.ts';
import { pestRows, watchData, watchRow } from './watch-view.ts';
import { endWatch, findWatch, nameWatch, startWatch, watchStanding } from './watches.ts';
import { watersOfSite } from './waters.ts';

/** Waters under watch for pests: the list with the table of pests, one watch, looks and treatments. */
export function pestPages(app: FastifyInstance, service: Service, temperaturesOf: TemperaturesOf): void {
  const context = { service, temperaturesOf };
  app.get('/stock/pests', (request, reply) => showList(context, request, reply));
  app.post('/stock/pests', takes(openSchema), (request, reply) => postOpen(context, request, reply));
  app.get('/stock/pests/:id', (request, reply) => showWatch(context, request, reply));
  app.post(
    '/stock/pests/:id/looks',
    takes(({ timeZone, now }) => lookSchema(timeZone, now)),
    (request, reply) => postLook(context, request, reply),
  );
  app.get('/stock/pests/:id/treatment', (request, reply) => showTreatment(context, request, reply));
  app.post(
    '/stock/pests/:id/treatments',
    takes(({ timeZone, now }) => treatmentSchema(timeZone, now)),
    (request, reply) => postTreatment(context, request, reply),
  );
  app.post('/stock/pests/:id/name', takes(namingSchema), (request, reply) =>
    postName(context, request, reply),
  );
  app.post('/stock/pests/:id/end', takes(endingSchema), (request, reply) => postEnd(context, request, reply));
  app.post('/pest-looks/:id/voiding', takes(voidSchema), (request, reply) =>
    postVoid('look', request, reply),
  );
  app.post('/pest-treatments/:id/voiding', takes(voidSchema), (request, reply) =>
    postVoid('treatment', request, reply),
  );
}

interface Pages {
  service: Service;
  temperaturesOf: TemperaturesOf;
}

const watchHref = (id: string) => `/stock/pests/${id}`;
const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This watch for a pest');

/** So long after its end a watch is listed (own choice). */
const endedDays = 90;

async function showList(
  { service, temperaturesOf }: Pages,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ water: '', pest: '', why: '' }),
) {
  const now = service.now();
  const waters = await watersOfSite(service.pool, request.site.id);
  const systems = [...new Set(waters.map(({ systemId }) => systemId))];
  const since = new Date(now.getTime() - endedDays * 86_400_000);
  const watches = await watchesOf(service.pool, systems, now, since);
  const days = await watchedTemperatures(service.pool, watches, now, temperaturesOf);
  const rows = watches.map((watch) => watchRow(watch, days.get(watch.systemId) ?? [], now));
  const data = {
    open: rows.filter(({ ended }) => !ended),
    ended: rows.filter(({ ended }) => ended),
    pests: pestRows,
    waters: waters.map(({ value, name }) => ({ value, text: name })),
    choices: pestChoices,
  };
  return showPage(service, request, reply, 'stock/pests', data, { title: 'Pests', area: 'stock', form });
}

const openSchema = z.object({
  water: text('which water'),
  pest: pestCode(),
  why: text('why it is watched', 300),
});

async function postOpen({ service, temperaturesOf }: Pages, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: openSchema.extend({
      water: choice(await waterValues(service, request), 'Choose a water of this site.'),
    }),
    act: async (work, { water, pest, why }) => {
      const [systemId = '', tankId = ''] = water.split(' ');
      const of = { systemId, tankId: tankId === '' ? null : tankId };
      return startWatch(work, of, pest === '' ? 'unnamed' : pest, why);
    },
    done: (id) => ({ to: watchHref(id), notice: 'This water is under watch.' }),
    again: (form) => showList({ service, temperaturesOf }, request, reply, form),
  });
}

async function waterValues(service: Service, request: FastifyRequest): Promise<[string, ...string[]]> {
  const waters = await watersOfSite(service.pool, request.site.id);
  return ['none', ...waters.map(({ value }) => value)] as [string, ...string[]];
}

async function showWatch(
  { service, temperaturesOf }: Pages,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ found: '', note: '', at: '', pest: '', reason: '' }),
) {
  const now = service.now();
  const { id } = await findWatch(service.db, idOf(request));
  const watch = await watchById(service.pool, id, now);
  if (watch === null) return reply.callNotFound();
  const days = await temperaturesOf(service.pool, [watch.systemId], now);
  const data = await watchData(service.pool, watch, days.get(watch.systemId) ?? [], now);
  return showPage(
    service,
    request,
    reply,
    'stock/pest-watch',
    { ...data, choices: pestChoices.slice(1), standing: await seenNow(service.db, watchStanding(id)) },
    {
      title: data.heading,
      area: 'stock',
      form,
    },
  );
}

async function postLook(pages: Pages, request: FastifyRequest, reply: FastifyReply) {
  const { service, temperaturesOf } = pages;
  const id = idOf(request);
  return submit(request, reply, {
    schema: lookSchema(request.site.timeZone, service.now()),
    act: (work, look) => lookForPest(work, id, look, temperaturesOf),
    done: ({ what, ended }) => ({
      to: watchHref(id),
      notice: `${what}.${ended ? ' The watch has ended.' : ''}`,
    }),
    again: (form) => showWatch(pages, request, reply, form),
  });
}

const emptyTreatment = {
  ...{ product: '', substance: '', doseALitre: '', doseUnit: '', labelLow: '', labelHigh: '', litres: '' },
  ...{ minutes: '', countedBefore: '', notFor: '', reason: '', note: '', at: '' },
};

async function showTreatment(
  { service, temperaturesOf }: Pages,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const now = service.now();
  const { id } = await findWatch(service.db, idOf(request));
  const watch = await watchById(service.pool, id, now);
  if (watch === null) return reply.callNotFound();
  const [lots, days] = await Promise.all([
    lotsInWater(service.pool, watch),
    temperaturesOf(service.pool, [watch.systemId], now),
  ]);
  const seen = new Set(watch.sightings.map(({ lotId }) => lotId));
  const last = watch.treatments.at(-1);
  const form =
    refused ??
    freshForm({
      ...emptyTreatment,
      ...(last === undefined
        ? {}
        : { product: last.product, substance: last.substance, doseUnit: last.doseUnit, notFor: last.notFor }),
    });
  const ticked = new Set([form.typed.treated ?? []].flat());
  const data = {
    ...watchRow(watch, days.get(watch.systemId) ?? [], now),
    lots: lots.map(({ id: lotId, code, kind }) => ({
      id: lotId,
      text: `${code}, ${kind}`,
      seen: seen.has(lotId),
      chosen: refused === undefined ? seen.has(lotId) : ticked.has(lotId),
    })),
  };
  return showPage(service, request, reply, 'stock/pest-treatment', data, {
    title: 'A treatment',
    area: 'stock',
    form,
  });
}

async function postTreatment(pages: Pages, request: FastifyRequest, reply: FastifyReply) {
  const { service, temperaturesOf } = pages;
  const id = idOf(request);
  return submit(request, reply, {
    schema: treatmentSchema(request.site.timeZone, service.now()),
    act: (work, input) => addTreatment(work, id, input, temperaturesOf),
    done: ({ againOn }) => ({
      to: watchHref(id),
      notice:
        againOn === null
          ? 'The treatment is kept. When it is due again is not known for this pest here.'
          : `The treatment is kept. It is due again from ${dateWords(againOn, request.site.timeZone)} on, when the eggs have hatched.`,
    }),
    again: (form) => showTreatment(pages, request, reply, form),
  });
}

async function postName(pages: Pages, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: namingSchema,
    act: (work, value) => nameWatch(work, id, value),
    done: (watch) => ({ to: watchHref(watch.id), notice: 'The pest is named.' }),
    again: (form) => showWatch(pages, request, reply, form),
  });
}

async function postEnd(pages: Pages, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: endingSchema,
    over: watchStanding(id),
    act: (work, { reason }) => endWatch(work, id, reason),
    done: () => ({ to: watchHref(id), notice: 'The watch has ended. The reason is kept.' }),
    again: (form) => showWatch(pages, request, reply, form),
  });
}

const voidSchema = z.object({ watch: chosen('Open the page again.'), why: text('why it is void', 300) });

async function postVoid(what: 'look' | 'treatment', request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This entry');
  return submit(request, reply, {
    schema: voidSchema,
    act: (work, { why }) => voidEntry(work, what, id, why),
    done: ({ watchId }) => ({ to: watchHref(watchId), notice: 'It is void. Nothing counts it any more.' }),
    again: ({ errors }) => {
      request.session.set('notice', errors[0]?.message);
      return reply.redirect('/stock/pests', 303);
    },
  });
}
