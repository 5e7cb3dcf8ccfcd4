import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { type NeverDone, neverDone, neverDoneIn, sayNeverDone } from '../../farm/systems/systems.ts';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { litres, volumeInWords } from '../../platform/units/measures.ts';
import { unitsNow } from '../../platform/units/units.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import { choice, optionalText, tick } from '../../platform/web/fields.ts';
import { type FormState, freshForm, refusedForm, submit } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import type { DoseOutlook } from '../dosing/dose-check.rules.ts';
import { computedSubstances } from '../dosing/dose-effect.rules.ts';
import { listQuantities, unitName } from '../quantities/quantities.ts';
import { findWaterSystem } from '../systems/systems.ts';
import type { ChangeOutlook } from './change-check.rules.ts';
import { logDose } from './doser-days.ts';
import { doseSchema, doseUnits, listDoses, lookAtDose, usedSubstances } from './doses.ts';
import { type ExportedLog, logCsv } from './export.csv.ts';
import { paginateLog } from './log.ts';
import { productSchema } from './product-effects.ts';
import { postProduct, productForms } from './products.pages.ts';
import { addWaterChange, listWaterChanges, lookAtWaterChange, waterChangeSchema } from './water-changes.ts';
import { doseEffectWords, waterChangeWords } from './words.rules.ts';

/** The logs of water changes and of doses of a system, each a list with its form on top, and every log as a file. */
export function logPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/water-changes', (request, reply) => showWaterChanges(service, request, reply));
  app.post(
    '/water/systems/:id/water-changes',
    takes(({ timeZone, now }) => waterChangeSchema(timeZone, now)),
    (request, reply) => postWaterChange(service, request, reply),
  );
  app.get('/water/systems/:id/doses', (request, reply) => showDoses(service, request, reply));
  app.post(
    '/water/systems/:id/doses',
    takes(({ timeZone, now }) => doseSchema(timeZone, now)),
    (request, reply) => postDose(service, request, reply),
  );
  app.post('/water/systems/:id/doses/products', takes(productSchema), (request, reply) =>
    postProduct(request, reply, pathId(request, 'id', 'This system'), (form) =>
      showDoses(service, request, reply, form),
    ),
  );
  for (const log of ['doses', 'water-changes', 'feedings'] as const)
    app.get(`/water/systems/:id/${log}.csv`, (request, reply) => sendLog(service, request, reply, log));
  app.post('/water/systems/:id/never', takes(neverDoneForm), (request, reply) =>
    postNeverDone(service, request, reply),
  );
}

const systemOf = (service: Service, request: FastifyRequest) =>
  findWaterSystem(service.db, pathId(request, 'id', 'This system'));
const nowInput = (service: Service, request: FastifyRequest) =>
  inputMoment(service.now(), request.site.timeZone);

async function sendLog(service: Service, request: FastifyRequest, reply: FastifyReply, log: ExportedLog) {
  const system = await systemOf(service, request);
  const csv = await logCsv(service.pool, log, system, request.site.timeZone);
  const name = `${log} ${system.name}`.replace(/[^\w .-]/g, '_');
  return reply
    .type('text/csv; charset=utf-8')
    .header('content-disposition', `attachment; filename="${name}.csv"`)
    .send(csv);
}

const waterOptions = [
  { value: 'usual', text: 'the usual make-up water' },
  { value: 'purified', text: 'purified water, without salt' },
  { value: 'other', text: 'mixed to another salinity' },
];

async function showWaterChanges(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
  looked: ChangeOutlook | null = null,
) {
  const system = await systemOf(service, request);
  const { entries: changes, pager } = await paginateLog(request, system.id, (query) =>
    listWaterChanges(service.pool, query),
  );
  const form =
    refused ??
    freshForm({
      amount: '',
      unit: unitsNow().volume,
      water: 'usual',
      salinity: '',
      temperature: '',
      note: '',
      reason: '',
      at: nowInput(service, request),
    });
  const { changes: neverSince } = await neverDoneIn(service.db, system.id);
  const thermal = (await listQuantities(service.db)).find(({ code }) => code === 'temperature');
  const entries = changes.map((change) => ({ ...change, words: waterChangeWords(change, system) }));
  const units = [
    { value: unitsNow().volume, text: volumeInWords() },
    { value: '%', text: `per cent of ${litres(system.volumeL)}` },
  ];
  return showPage(
    service,
    request,
    reply,
    'water/water-changes',
    {
      system,
      entries,
      pager,
      units,
      waters: waterOptions,
      neverSince,
      looked,
      temperatureUnit: unitName('temperature', thermal?.displayUnit ?? 'degC'),
      asksWhy: asksWhy(form, looked),
    },
    { title: `Water changes: ${system.name}`, area: 'water', form },
  );
}

const neverDoneForm = z.object({
  what: choice(neverDone, 'Say whether it is doses or water changes.'),
  done: tick(),
});
const logPaths: Readonly<Record<NeverDone, string>> = { doses: 'doses', changes: 'water-changes' };

/** That nothing is dosed here, or no water changed: said from today on, or taken back. */
async function postNeverDone(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const system = await systemOf(service, request);
  return submit(request, reply, {
    schema: neverDoneForm,
    act: (work, { what, done }) => sayNeverDone(work, system.id, what, done ? null : work.now),
    done: (_, { what, done }) => ({
      to: `/water/systems/${system.id}/${logPaths[what]}`,
      notice: done ? 'Taken back.' : 'Saved. What you log here later counts as usual.',
    }),
    again: (form) =>
      (form.typed.what === 'changes' ? showWaterChanges : showDoses)(service, request, reply, form),
  });
}

/** Whether the form has to ask for the reason of what is unusual. */
const asksWhy = (form: FormState, looked: { concerns: readonly string[] } | null): boolean =>
  (looked?.concerns.length ?? 0) > 0 ||
  (form.typed.reason ?? '') !== '' ||
  form.errors.some(({ field }) => field === 'reason');

async function postWaterChange(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const system = await systemOf(service, request);
  if (isLook(request))
    return lookAtTyped(request, reply, {
      schema: waterChangeSchema(request.site.timeZone, service.now()),
      look: (value) => lookAtWaterChange(service.db, system, value),
      show: (form, looked) => showWaterChanges(service, request, reply, form, looked),
    });
  return submit(request, reply, {
    schema: waterChangeSchema(request.site.timeZone, service.now()),
    act: (work, value) => addWaterChange(work, system.id, value),
    done: (change) => ({
      to: `/water/systems/${system.id}/water-changes`,
      notice: `Saved: ${waterChangeWords(change, system)} of ${system.name} changed. ${change.says}`.trim(),
    }),
    again: (form) => showWaterChanges(service, request, reply, form),
  });
}

async function showDoses(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
  looked: DoseOutlook | null = null,
) {
  const system = await systemOf(service, request);
  const [quantities, { entries: doses, pager }, known] = await Promise.all([
    listQuantities(service.db),
    paginateLog(request, system.id, (query) => listDoses(service.pool, query)),
    usedSubstances(service.db, system.id),
  ]);
  const form =
    refused ??
    freshForm({
      substance: '',
      amount: '',
      unit: 'mL',
      quantityCode: '',
      rise: '',
      note: '',
      reason: '',
      earlierToo: '',
      at: nowInput(service, request),
    });
  const entries = doses.map((dose) => ({
    ...dose,
    words: `${numberWords(dose.amount)} ${dose.unit} ${dose.substance}`,
    more: [doseEffectWords(dose, quantities), dose.reason, dose.note]
      .filter((part) => part !== '')
      .join('; '),
  }));
  const data = {
    system,
    entries,
    pager,
    looked,
    asksWhy: asksWhy(form, looked),
    ...(await productForms(service, system, quantities)),
    known: [...new Set([...known, ...computedSubstances])],
    units: doseUnits.map((unit) => ({ value: unit, text: unit })),
    raises: quantities.map((quantity) => ({ value: quantity.code, text: quantity.name })),
  };
  const { doses: neverSince } = await neverDoneIn(service.db, system.id);
  return showPage(
    service,
    request,
    reply,
    'water/doses',
    { ...data, neverSince },
    {
      title: `Doses: ${system.name}`,
      area: 'water',
      form,
    },
  );
}

async function postDose(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const system = await systemOf(service, request);
  if (isLook(request))
    return lookAtTyped(request, reply, {
      schema: doseSchema(request.site.timeZone, service.now()),
      look: (value) => lookAtDose(service.db, system, value),
      show: (form, looked) => showDoses(service, request, reply, form, looked),
    });
  return submit(request, reply, {
    schema: doseSchema(request.site.timeZone, service.now()),
    act: (work, value) => logDose(work, system.id, value),
    done: ({ says, earlier }, { amount, unit, substance }) => ({
      to: `/water/systems/${system.id}/doses`,
      notice: `Saved: ${numberWords(amount)} ${unit} ${substance}. ${says}${earlier === 0 ? '' : ` ${plural(earlier, 'earlier dose', 'earlier doses')} of it ${earlier === 1 ? 'goes' : 'go'} by the same.`}`,
    }),
    again: (form) => showDoses(service, request, reply, form),
  });
}

/** Whether the form was sent to see what it does, not to save it. */
const isLook = (request: FastifyRequest): boolean =>
  z.object({ look: optionalText(10) }).parse(request.body ?? {}).look !== '';

/** Draws the form again with what it would do; nothing is saved. */
async function lookAtTyped<S extends z.ZodType, Looked>(
  request: FastifyRequest,
  reply: FastifyReply,
  form: {
    schema: S;
    look(value: z.output<S>): Promise<Looked>;
    show(form: FormState, looked?: Looked): Promise<unknown>;
  },
) {
  const parsed = form.schema.safeParse(request.body ?? {});
  if (!parsed.success) {
    reply.status(422);
    return form.show(refusedForm(request.body, fieldErrors(parsed.error)));
  }
  try {
    return await form.show(refusedForm(request.body, []), await form.look(parsed.data));
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    reply.status(error.status);
    return form.show(refusedForm(request.body, error.fields));
  }
}
