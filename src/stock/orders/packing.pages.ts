import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { takes } from '../../platform/door/takes.ts';
import { seenOf } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { inputLength, inputLitres, unitNames } from '../../platform/units/measures.ts';
import { unitText } from '../../platform/units/units.ts';
import { tick } from '../../platform/web/fields.ts';
import { sentFiles, takeFiles } from '../../platform/web/files.ts';
import { type FormState, freshForm, refusedForm, submit } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { attachPictures, largestFile, largestPictures, mostPictures } from '../files/attached-files.ts';
import { gateRefusals } from '../pests/gate.ts';
import { rangeWords } from '../shipping/box.rules.ts';
import { addPermitLine, boxOf, checkShipping, noteArrival, removePermitLine } from '../shipping/shipments.ts';
import { METHODS, PACK_CHOICES, permitSchema, WALL_CHOICES } from '../shipping/shipping.schema.ts';
import { storedShipment, usualShipment } from '../shipping/stored.ts';
import { inputTemperature, temperatureUnit, temperatureWords } from '../shipping/temperatures.ts';
import { cautionsOf, showOrder } from './order.pages.ts';
import { arrivalSchema, packingSchema } from './orders.schema.ts';
import { lockOrder } from './orders.ts';
import { packOrder } from './stages.ts';
import { orderState } from './state.ts';
import { againOf, lineView, orderHref } from './view.ts';

/** Packing an order, its permit, and how its box arrived. */
export async function packingPages(app: FastifyInstance, service: Service): Promise<void> {
  app.get('/stock/orders/:id/packing', (request, reply) => showPacking(service, request, reply));
  app.post(
    '/stock/orders/:id/packing',
    takes(() => packingSchema('degC')),
    (request, reply) => postPacking(service, request, reply),
  );
  app.post('/stock/orders/:id/permit', takes(permitSchema), (request, reply) =>
    postPermit(service, request, reply),
  );
  app.post('/stock/orders/:id/permit/:lineId/removal', takes(permitRemovalBody), (request, reply) =>
    postPermitRemoval(service, request, reply),
  );
  app.get('/stock/orders/:id/arrival', (request, reply) => showArrival(service, request, reply));
  await app.register(async (scope) => {
    await takeFiles(scope, largestFile, { files: mostPictures, fields: mostFields });
    scope.post(
      '/stock/orders/:id/arrival',
      {
        ...takes(({ timeZone, now }) => arrivalSchema([{ id: 'ID-OF-LINE', pieces: 1 }], timeZone, now)),
        bodyLimit: largestPictures,
      },
      (request, reply) => postArrival(service, request, reply),
    );
  });
}

/** Fields of the form of an arrival: one for each line of the order, and few others (own choice). */
const mostFields = 500;

const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This order');

/** The fields of a box as they stand in the form; the weather is that of each way, and never the last one's. */
async function freshBox(service: Service, request: FastifyRequest, orderId: string, unit: string) {
  const own = await storedShipment(service.pool, orderId);
  const usual = own ?? (await usualShipment(service.pool, request.site.id));
  const { coldestDegC = null, warmestDegC = null, startDegC = null } = own ?? {};
  return {
    way: usual === null ? 'fetched' : 'box',
    wall: usual?.wall ?? 'unknown',
    lengthMm: inputLength(usual?.lengthMm ?? null),
    widthMm: inputLength(usual?.widthMm ?? null),
    bags: usual?.bags ?? '',
    litresABag: inputLitres(usual?.litresABag ?? null),
    method: usual?.method ?? 'submerged',
    pack: usual?.pack ?? 'none',
    carrier: usual?.carrier ?? '',
    hours: usual?.hours ?? '',
    claimHours: usual?.claimHours ?? '',
    startDegC: inputTemperature(unit, startDegC ?? usual?.startDegC ?? null),
    coldestDegC: inputTemperature(unit, coldestDegC),
    warmestDegC: inputTemperature(unit, warmestDegC),
    boxDespite: own?.despite ?? '',
  };
}

async function boxSays(service: Service, orderId: string, form: FormState, unit: string, isAsked: boolean) {
  if (!isAsked) return null;
  const typed = packingSchema(unit).safeParse(form.typed);
  if (!typed.success) return null;
  const { box } = typed.data;
  const check = await checkShipping(service.pool, orderId, box === null ? null : boxOf(box));
  const { box: verdict, differences } = check;
  const ends = verdict?.range == null ? '' : rangeWords(verdict.range, temperatureWords(unit));
  return { verdict, differences, ends, seen: seenOf(verdict?.lines ?? []) };
}

async function showPacking(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const order = await orderState(service.pool, idOf(request));
  const unit = await temperatureUnit(service.pool);
  const fresh = { ...(await freshBox(service, request, order.id, unit)), despite: '', boxSeen: '' };
  const form = againOf(refused, reply, order) ?? freshForm({ ...fresh, version: order.version });
  const ticked = [form.typed.packed ?? []].flat();
  const lots = order.lines.map(({ lotId, code }) => ({ id: lotId, code }));
  const gate = await gateRefusals(service.pool, lots, 'sale', '');
  const cautions = await cautionsOf(service, request, order);
  const says = await boxSays(service, order.id, form, unit, refused !== undefined);
  const data = {
    order,
    lines: order.lines.map((line) => ({
      ...lineView(line, order),
      ticked: ticked.includes(line.id),
      water: gate.get(line.lotId) ?? '',
      reasons: cautions.get(line.lotId) ?? [],
    })),
    asks: [...gate.values()].some((why) => why !== ''),
    walls: WALL_CHOICES,
    methods: METHODS,
    packs: PACK_CHOICES,
    units: unitNames(),
    temperature: unitText(unit),
    says,
    isRefused: says?.verdict?.answer === 'refused',
  };
  const title = `Pack order ${order.number}`;
  return showPage(service, request, reply, 'stock/order-packing', data, { title, area: 'stock', form });
}

async function postPacking(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  if ((request.body as { do?: unknown } | null)?.do === 'look')
    return showPacking(service, request, reply, refusedForm(request.body, []));
  const unit = await temperatureUnit(service.pool);
  return submit(request, reply, {
    schema: packingSchema(unit),
    act: (work, value) => packOrder(work, id, value),
    done: ({ number }) => ({ to: orderHref(id), notice: `Order ${number} is packed.` }),
    again: (form) => showPacking(service, request, reply, form),
  });
}

async function permitChange(work: Work, id: string, act: () => Promise<void>) {
  await lockOrder(work, id);
  await act();
}

async function postPermit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: permitSchema,
    act: (work, { permitPieces: pieces, ...line }) =>
      permitChange(work, id, () => addPermitLine(work, id, { ...line, pieces })),
    done: () => ({ to: `${orderHref(id)}#permit`, notice: 'The permit line is kept.' }),
    again: (form) => showOrder(service, request, reply, form),
  });
}

const permitRemovalBody = z.object({ sure: tick() });

async function postPermitRemoval(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  const lineId = pathId(request, 'lineId', 'This permit line');
  return submit(request, reply, {
    schema: permitRemovalBody,
    act: (work) => permitChange(work, id, () => removePermitLine(work, id, lineId)),
    done: () => ({ to: `${orderHref(id)}#permit`, notice: 'The permit line is gone.' }),
    again: (form) => showOrder(service, request, reply, form),
  });
}

async function showArrival(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const order = await orderState(service.pool, idOf(request));
  const box = await storedShipment(service.pool, order.id);
  const at = box?.arrivedAt == null ? '' : inputMoment(box.arrivedAt, request.site.timeZone);
  const form =
    againOf(refused, reply, { version: box?.version ?? 1 }) ??
    freshForm({
      ...Object.fromEntries(order.lines.map(({ id, deadOnArrival }) => [`dead_${id}`, deadOnArrival ?? 0])),
      ...{
        at,
        late: box?.late === true ? 'yes' : '',
        note: box?.resultNote ?? '',
        version: box?.version ?? 1,
      },
    });
  const data = {
    order,
    isSent: box !== null,
    lines: order.lines.map((line) => ({
      ...lineView(line, order),
      field: `dead_${line.id}`,
      typed: form.typed[`dead_${line.id}`],
    })),
  };
  const title = `How order ${order.number} arrived`;
  return showPage(service, request, reply, 'stock/order-arrival', data, { title, area: 'stock', form });
}

async function postArrival(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  const { lines } = await orderState(service.pool, id);
  return submit(request, reply, {
    schema: arrivalSchema(lines, request.site.timeZone, service.now()),
    act: async (work, value) => {
      const { stage } = await lockOrder(work, id);
      await noteArrival(work, id, stage, value);
      await attachPictures(work, { noun: 'sales_order', id }, sentFiles(request), 'Dead on arrival');
    },
    done: () => ({
      to: orderHref(id),
      notice: 'How it arrived is kept.',
    }),
    again: (form) => showArrival(service, request, reply, form),
  });
}
