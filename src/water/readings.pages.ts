import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../platform/service.ts';
import { backOf } from '../platform/web/back.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { inputMoment } from '../platform/web/moments.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import { benchRows, howChoices } from './bench.ts';
import { correctReading, findReading } from './corrected.ts';
import { benchOf } from './instruments.ts';
import { listQuantities, say, sayDifference, unitChoices, unitName } from './quantities.ts';
import { whatSettles } from './readings.rules.ts';
import { correctionSchema, readingsForm, splitHow } from './readings.schema.ts';
import { type EnteredReading, enterReadings } from './readings.ts';
import { findOpenWater } from './systems.ts';

/** Entering what was read, and mending what was entered wrongly. */
export function readingPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/readings/new', (request, reply) => showBench(service, request, reply));
  app.post('/water/systems/:id/readings', (request, reply) => postReadings(service, request, reply));
  app.get('/water/readings/:id', (request, reply) => showReading(service, request, reply));
  app.post('/water/readings/:id/correction', (request, reply) => postCorrection(service, request, reply));
}

const systemId = (request: FastifyRequest) => pathId(request, 'id', 'This system');

async function showBench(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const system = await findOpenWater(service.db, systemId(request));
  const [now, { timeZone }] = [service.now(), request.site];
  const rows = await benchRows(service, { systemId: system.id, personId: request.person.id, now, timeZone });
  const form = refused ?? freshForm({ at: inputMoment(now, timeZone), note: '' });
  const drawn = rows.map((row) => {
    const { text, unit, how, sure } = row.names;
    const doubt = form.errors.find((error) => error.field === sure)?.message ?? null;
    const typed = (name: string, otherwise: string) => String(form.typed[name] ?? otherwise);
    const unitTyped = typed(unit, row.unit);
    return {
      ...row,
      typed: typed(text, ''),
      unit: unitTyped,
      how: typed(how, row.how),
      sure: typed(sure, ''),
      error: form.errors.find((error) => error.field === text)?.message ?? null,
      doubt,
      really: `It really is ${typed(text, '')} ${unitName(row.code, unitTyped)}`.trim(),
      open: !row.rare || typed(text, '') !== '',
    };
  });
  const data = {
    system,
    rows: drawn.filter((row) => row.open),
    rare: drawn.filter((row) => !row.open),
    latest: inputMoment(now, timeZone),
    back: backOf(request),
  };
  return showPage(service, request, reply, 'water/bench', data, {
    title: `Readings: ${system.name}`,
    area: 'water',
    form,
  });
}

async function postReadings(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = systemId(request);
  const codes = (await listQuantities(service.db)).map((quantity) => quantity.code);
  return submit(request, reply, {
    schema: readingsForm(codes, request.site.timeZone, service.now()),
    act: (work, typed) => enterReadings(work, { systemId: id, ...typed }),
    done: ({ readings }) => ({
      to: backOf(request) ?? `/water/systems/${id}?quantity=${shownFirst(readings)}`,
      notice: savedWords(readings),
    }),
    again: (form) => showBench(service, request, reply, form),
  });
}

/** The chart that is looked at next: of a reading that wants repeating, else of the first one. */
function shownFirst(readings: readonly EnteredReading[]): string {
  return (readings.find((one) => one.trust === 'unconfirmed') ?? readings[0])?.quantityCode ?? '';
}

/** "Saved: Alkalinity 8.3 dKH, Nitrate 7.6 mg/L as NO₃. Test again: Alkalinity 6.9 dKH." */
export function savedWords(readings: readonly EnteredReading[]): string {
  const said = readings.map((one) => `${one.name} ${one.said}`).join(', ');
  const again = readings.filter((one) => one.trust === 'unconfirmed').map((one) => one.name);
  return again.length === 0 ? `Saved: ${said}.` : `Saved: ${said}. Test again: ${again.join(', ')}.`;
}

async function showReading(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const reading = await findReading(service.db, pathId(request, 'id', 'This reading'));
  const { quantity } = reading;
  const bench = await benchOf(service.db, [quantity.code]);
  const how = reading.kitId ? `${reading.methodId}/${reading.kitId}` : (reading.methodId ?? '');
  const hows = howChoices(bench.methods);
  const form =
    refused ?? freshForm({ text: reading.enteredText, unit: reading.enteredUnit, how, reason: '' });
  const doubt = form.errors.find((error) => error.field === 'sure')?.message ?? null;
  const data = {
    reading,
    said: say(quantity, reading.value, reading.belowDetection),
    uncertainty: sayDifference(quantity, reading.uncertainty, reading.value),
    entered: `${reading.enteredText} (${unitName(quantity.code, reading.enteredUnit) || reading.enteredUnit})`,
    advice:
      reading.trust === 'unconfirmed'
        ? whatSettles(quantity, { ...reading, below: reading.belowDetection })
        : null,
    units: unitChoices(quantity),
    hows:
      hows.some((one) => one.value === how) || how === ''
        ? hows
        : [{ value: how, text: 'as before' }, ...hows],
    doubt,
  };
  const title = `${quantity.name} in ${reading.system.name}`;
  return showPage(service, request, reply, 'water/reading', data, { title, area: 'water', form });
}

async function postCorrection(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This reading');
  return submit(request, reply, {
    schema: correctionSchema,
    act: (work, { how, ...typed }) => correctReading(work, id, { ...typed, ...splitHow(how) }),
    done: ({ reading, systemId: system }) => ({
      to: `/water/systems/${system}?quantity=${reading.quantityCode}`,
      notice: `Corrected: ${savedWords([reading]).replace('Saved: ', '')} The old one stays in view, struck through.`,
    }),
    again: (form) => showReading(service, request, reply, form),
  });
}
