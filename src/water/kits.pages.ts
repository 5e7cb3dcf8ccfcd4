import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../platform/service.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { inputMoment, localDay } from '../platform/web/moments.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import { checksVerdict } from './kits.rules.ts';
import { checkSchema, newKitSchema, retirementSchema } from './kits.schema.ts';
import { addCheck, findKit, listKits, listMethods, openKit, retireKit } from './kits.ts';
import { listQuantities, say, sayDifference, unitChoices } from './quantities.ts';

/** Methods and kits: what is open, until when, and whether it reads right. */
export function kitPages(app: FastifyInstance, service: Service): void {
  app.get('/water/kits', (request, reply) => showKits(service, request, reply));
  app.post('/water/kits', (request, reply) => postKit(service, request, reply));
  app.get('/water/kits/:id', (request, reply) => showKit(service, request, reply));
  app.post('/water/kits/:id/checks', (request, reply) => postCheck(service, request, reply));
  app.post('/water/kits/:id/retirement', (request, reply) => postRetirement(service, request, reply));
}

const kitId = (request: FastifyRequest) => pathId(request, 'id', 'This kit');

async function showKits(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const [kits, methods, quantities] = await Promise.all([
    listKits(service.pool),
    listMethods(service.db),
    listQuantities(service.db),
  ]);
  const now = service.now();
  const today = localDay(now, request.site.timeZone);
  const rows = kits.flatMap((kit) => {
    const quantity = quantities.find((one) => one.code === kit.quantityCode);
    if (quantity === undefined) return [];
    const middle = (quantity.plausibleLow + quantity.plausibleHigh) / 2;
    const off = kit.meanError === null ? null : sayDifference(quantity, Math.abs(kit.meanError), middle);
    const checked =
      off === null ? 'not checked' : `${off} ${(kit.meanError ?? 0) < 0 ? 'low' : 'high'} on average`;
    return [
      { ...kit, name: quantity.name, checked, expired: kit.expiresOn !== null && kit.expiresOn < today },
    ];
  });
  const choices = methods.map((method) => ({
    value: method.id,
    text: `${method.quantity.name}: ${method.name}`,
  }));
  const form =
    refused ??
    freshForm({
      methodId: '',
      label: '',
      lotNumber: '',
      openedAt: inputMoment(now, request.site.timeZone),
      expiresOn: '',
    });
  const inUse = rows.filter((kit) => kit.retiredAt === null);
  const data = {
    inUse,
    retired: rows.filter((kit) => kit.retiredAt !== null),
    choices,
    methods: methodRows(methods),
  };
  return showPage(service, request, reply, 'water/kits', data, { title: 'Test kits', area: 'water', form });
}

/** What each method can tell, in the farm's units. */
function methodRows(methods: Awaited<ReturnType<typeof listMethods>>) {
  return methods.map(({ id, name, note, absolute, relative, detectionLimit, isDefault, quantity }) => {
    const middle = (quantity.plausibleLow + quantity.plausibleHigh) / 2;
    const parts = [
      absolute > 0 ? sayDifference(quantity, absolute, middle) : '',
      relative > 0 ? `${Math.round(relative * 1000) / 10} %` : '',
    ];
    const limit = detectionLimit === null ? 'none stated' : say(quantity, detectionLimit);
    return {
      id,
      quantity: quantity.name,
      name,
      note,
      isDefault,
      uncertainty: parts.filter((part) => part !== '').join(' and '),
      limit,
    };
  });
}

async function postKit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: newKitSchema(request.site.timeZone, service.now()),
    act: openKit,
    done: ({ id }, { label }) => ({
      to: `/water/kits/${id}`,
      notice: `${label} is open. Check it against a standard, and test one sample with the old kit too.`,
    }),
    again: (form) => showKits(service, request, reply, form),
  });
}

async function showKit(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const kit = await findKit(service.db, kitId(request));
  const { method } = kit;
  const { quantity } = method;
  const { timeZone } = request.site;
  const standing = kit.checks.filter((check) => check.voidedAt === null);
  const tests = standing.map(({ at, standardValue, value }) => ({
    day: localDay(at, timeZone),
    standardValue,
    value,
  }));
  const checks = kit.checks.map((check) => ({
    ...check,
    standard: say(quantity, check.standardValue),
    showed: say(quantity, check.value),
    off: `${check.value < check.standardValue ? '−' : '+'}${sayDifference(quantity, Math.abs(check.value - check.standardValue), check.standardValue)}`,
  }));
  const at = inputMoment(service.now(), timeZone);
  const form = refused ?? freshForm({ standard: '', value: '', unit: quantity.displayUnit, note: '', at });
  const expiresOn = kit.expiresOn?.toISOString().slice(0, 10) ?? null;
  const expired = expiresOn !== null && expiresOn < localDay(service.now(), timeZone);
  const data = {
    kit: { ...kit, expiresOn, expired },
    quantity,
    method,
    checks,
    verdict: checksVerdict(tests, method, quantity),
    units: unitChoices(quantity),
  };
  return showPage(service, request, reply, 'water/kit', data, {
    title: `${kit.label}: ${quantity.name}`,
    area: 'water',
    form,
  });
}

async function postCheck(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = kitId(request);
  return submit(request, reply, {
    schema: checkSchema(request.site.timeZone, service.now()),
    act: (work, value) => addCheck(work, id, value),
    done: () => ({
      to: `/water/kits/${id}`,
      notice: 'The check is kept. A second test of the same standard makes it worth more.',
    }),
    again: (form) => showKit(service, request, reply, form),
  });
}

async function postRetirement(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = kitId(request);
  return submit(request, reply, {
    schema: retirementSchema(request.site.timeZone, service.now()),
    act: (work, { at }) => retireKit(work, id, at),
    done: () => ({ to: '/water/kits', notice: 'The kit is out of use. Its readings and checks stay.' }),
    again: (form) =>
      showKit(service, request, reply, {
        ...form,
        typed: { standard: '', value: '', unit: '', note: '', at: '', ...form.typed },
      }),
  });
}
