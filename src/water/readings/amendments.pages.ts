import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { listOpenSystems } from '../../farm/systems/systems.ts';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { isCorrectable } from '../dosing/substances.rules.ts';
import { canBeDiluted } from '../entry/entry.rules.ts';
import { biasWords, removeBias } from '../kits/bias.rules.ts';
import { kitBiases } from '../kits/bias.ts';
import { loadInstrumentCatalog } from '../kits/instruments.ts';
import { holdPackedToSite } from '../probe-days/unpacked.ts';
import {
  type Bounded,
  type Quantity,
  say,
  sayBand,
  sayDifference,
  sayReading,
  unitChoices,
  unitName,
} from '../quantities/quantities.ts';
import { listTargets } from '../targets/targets.ts';
import { coverageInterval, repeatAdvice, resolutionCaution } from '../trust/trust.rules.ts';
import { amendReading, findReading, hoursSinceDose, moveReading, readAs } from './amendments.ts';
import { savedWords } from './entry-form.pages.ts';
import { instrumentChoices, readingModeChoices } from './entry-form.ts';
import { amendmentSchema, moveForm, parseInstrument, parseMode } from './readings.schema.ts';
import { factorWords, sinceDoseWords } from './table.ts';

/** One reading: what is known of it, and the form that puts the right value in place of a mistyped one. */
export function readingPages(app: FastifyInstance, service: Service): void {
  app.get('/water/readings/:id', (request, reply) => showReading(service, request, reply));
  app.post('/water/readings/:id/correction', takes(amendmentSchema), (request, reply) =>
    postAmendment(service, request, reply),
  );
  app.post('/water/readings/:id/move', takes(moveForm), (request, reply) =>
    postMove(service, request, reply),
  );
}

async function showReading(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const reading = await findReading(service.db, await readingId(service, request));
  const { quantity } = reading;
  const [catalog, biases, targets, hours] = await Promise.all([
    loadInstrumentCatalog(service.db, [quantity.code]),
    kitBiases(service.pool, reading.kitId === null ? [] : [reading.kitId]),
    listTargets(service.db, reading.systemId),
    hoursSinceDose(service.pool, reading),
  ]);
  const target = targets.get(quantity.code);
  const kit = biases.get(reading.kitId ?? '');
  const bounded = { ...reading, below: reading.belowDetection, above: reading.aboveScale };
  const right = removeBias(bounded, kit);
  const how = reading.kitId ? `${reading.methodId}/${reading.kitId}` : (reading.methodId ?? '');
  const hows = instrumentChoices(catalog.methods);
  const form =
    refused ??
    freshForm({
      text: reading.enteredText,
      unit: reading.enteredUnit,
      how,
      ...readAs(
        reading.factor,
        catalog.methods.find(({ id }) => id === reading.methodId)?.sideDivisor ?? null,
      ),
      reason: '',
    });
  const doubt = form.errors.find((error) => error.field === 'sure')?.message ?? null;
  const systems = await listOpenSystems(service.db, reading.system.siteId);
  const data = {
    reading,
    said: sayReading(quantity, bounded),
    uncertainty: sayDifference(quantity, reading.uncertainty, reading.value),
    interval: intervalWords(quantity, bounded),
    caution: resolutionCaution(quantity, bounded, {
      low: target?.bandLow ?? null,
      high: target?.bandHigh ?? null,
    }),
    corrected:
      right === null
        ? null
        : `${say(quantity, right.value)} ± ${sayDifference(quantity, right.uncertainty, right.value)}`,
    kitSays: kit === undefined ? '' : `${kit.label} ${biasWords(kit)}`,
    phase: hours === null ? null : sinceDoseWords(hours),
    modes: readingModeChoices(catalog.methods),
    dilutes: canBeDiluted(quantity.code),
    entered: `${reading.enteredText} (${unitName(quantity.code, reading.enteredUnit) || reading.enteredUnit})${factorWords(reading.factor)}`,
    advice: reading.trust === 'unconfirmed' ? repeatAdvice(quantity, bounded) : null,
    mayCorrect:
      reading.voidedAt === null &&
      (reading.trust === 'plain' || reading.trust === 'confirmed') &&
      isCorrectable(quantity.code),
    units: unitChoices(quantity),
    hows:
      hows.some((one) => one.value === how) || how === ''
        ? hows
        : [{ value: how, text: 'as before' }, ...hows],
    doubt,
    moveDoubt: form.errors.find(({ field }) => field === 'moveSure')?.message ?? null,
    isMove: form.errors.some(({ field }) => moveFields.includes(field)),
    mayMove: reading.voidedAt === null && reading.accessKeyId === null && reading.slotId === null,
    others: systems
      .filter(({ id }) => id !== reading.systemId)
      .map(({ id, name }) => ({ value: id, text: name })),
  };
  const title = `${quantity.name} in ${reading.system.name}`;
  return showPage(service, request, reply, 'water/reading', data, { title, area: 'water', form });
}

/** "between 0.003 and 0.040 mg/L", where the true value lies 19 times in 20. */
function intervalWords(quantity: Quantity, reading: Bounded & { uncertainty: number }): string {
  const { low, high } = coverageInterval(quantity, reading);
  return sayBand(quantity, low, high) ?? '';
}

async function postAmendment(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = await readingId(service, request);
  return submit(request, reply, {
    schema: amendmentSchema,
    act: (work, { how, mode, ...typed }) =>
      amendReading(work, id, { ...typed, ...parseInstrument(how), ...parseMode(mode) }),
    done: ({ reading, systemId: system }) => ({
      to: `/water/systems/${system}?quantity=${reading.quantityCode}`,
      notice: `Corrected: ${savedWords([reading]).replace('Saved: ', '')} The old one stays in view, struck through.`,
    }),
    again: (form) => showReading(service, request, reply, form),
  });
}

async function postMove(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = await readingId(service, request);
  return submit(request, reply, {
    schema: moveForm,
    act: (work, { systemId, moveReason, moveSure }) =>
      moveReading(work, id, { systemId, reason: moveReason, sure: moveSure }).catch(underMoveFields),
    done: ({ from, to, reading }) => ({
      to: `/water/readings/${reading.id}`,
      notice: `Moved to ${to}: ${savedWords([reading]).replace('Saved: ', '')} In ${from} it stays in view, struck through.`,
    }),
    again: (form) => showReading(service, request, reply, form),
  });
}

const moveFields = Object.keys(moveForm.shape);

/** The names that a move's fields have beside those of the correction on one page. */
function underMoveFields(error: unknown): never {
  if (!(error instanceof Refusal)) throw error;
  const fields = error.fields.map(({ field, message }) => ({
    field: field === 'systemId' ? field : 'moveSure',
    message,
  }));
  throw new Refusal(error.message, { status: error.status, fields });
}

async function readingId(service: Service, request: FastifyRequest): Promise<string> {
  const id = pathId(request, 'id', 'This reading');
  await holdPackedToSite(service.db, id, request.site.id);
  return id;
}
