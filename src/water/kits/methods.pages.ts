import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import { seenIn, seenOf } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { listQuantities, unitName } from '../quantities/quantities.ts';
import { findMethod, methodFormValues, methodSchema, saveMethod } from './methods.ts';

/** How each quantity is measured, and how exact a test is. */
export function methodPages(app: FastifyInstance, service: Service): void {
  app.get('/water/methods/new', (request, reply) => showNew(service, request, reply));
  app.post('/water/methods', takes(methodSchema), (request, reply) => postNew(service, request, reply));
  app.get('/water/methods/:id', (request, reply) => showMethod(service, request, reply));
  app.post('/water/methods/:id', takes(methodSchema), (request, reply) =>
    postMethod(service, request, reply),
  );
}

const blank = {
  quantityCode: '',
  name: '',
  absolute: '',
  relative: '',
  step: '',
  detectionLimit: '',
  sideDivisor: '',
  everyMinutes: '',
  isProbe: '',
  laboratory: '',
  isDefault: '',
  retired: '',
  note: '',
};

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const quantities = await listQuantities(service.db);
  const form =
    refused === undefined ? freshForm(blank) : { ...refused, typed: { ...blank, ...refused.typed } };
  const data = {
    method: null,
    quantities: quantities.map(({ code, name, displayUnit }) => ({
      value: code,
      text: `${name}, in ${unitName(code, displayUnit) || 'pH'}`,
    })),
    unit: '',
  };
  return showPage(service, request, reply, 'water/method', data, {
    title: 'Add a method',
    area: 'water',
    form,
  });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: methodSchema,
    act: (work, input) => saveMethod(work, null, input),
    done: (_, { name }) => ({
      to: '/water/kits',
      notice: `${name} is added. Open a kit for it, or enter readings with it.`,
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showMethod(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const method = await findMethod(service.db, pathId(request, 'id', 'This method'));
  const { quantity } = method;
  const form =
    refused === undefined
      ? freshForm(methodFormValues(method))
      : { ...refused, typed: { ...blank, ...refused.typed } };
  const now = methodFormValues(method);
  const data = {
    method,
    ...{ quantities: [], unit: unitName(quantity.code, quantity.displayUnit), seen: seenOf(now) },
    theirs: reply.statusCode === 409 ? theirsOf(now, form.typed) : '',
  };
  const title = `${method.name}: ${quantity.name}`;
  return showPage(service, request, reply, 'water/method', data, { title, area: 'water', form });
}

/** What is there now and differs from what was typed. */
function theirsOf(now: Record<string, unknown>, typed: Record<string, unknown>): string {
  const others = Object.entries(now).filter(([name, value]) => `${value}` !== `${typed[name] ?? ''}`);
  return others.map(([, value]) => (value === '' ? 'nothing' : value)).join('; ');
}

async function postMethod(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This method');
  return submit(request, reply, {
    schema: methodSchema,
    act: (work, input) => saveMethod(work, id, input, seenIn(request.body)),
    done: (_, { name }) => ({
      to: '/water/kits',
      notice: `${name} is changed. Readings keep the uncertainty they were entered with.`,
    }),
    again: (form) => showMethod(service, request, reply, form),
  });
}
