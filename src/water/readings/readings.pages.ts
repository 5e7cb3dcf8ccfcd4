import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { backOf } from '../../platform/web/back.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { isCorrectable } from '../dosing/substances.rules.ts';
import { biasWords, withoutBias } from '../kits/bias.rules.ts';
import { kitBiases } from '../kits/bias.ts';
import { benchOf } from '../kits/instruments.ts';
import {
  listQuantities,
  type Quantity,
  say,
  sayBand,
  sayDifference,
  unitChoices,
  unitName,
} from '../quantities/quantities.ts';
import { findOpenWater } from '../systems/systems.ts';
import { cannotTell, intervalOf } from '../trust/resolution.rules.ts';
import { whatSettles } from '../trust/trust.rules.ts';
import { correctReading, findReading, hoursSinceDose } from './amendments.ts';
import { type BenchRow, benchRows, howChoices, modeChoices, modesOf } from './entry-form.ts';
import { correctionSchema, readingsForm, splitHow, splitMode } from './readings.schema.ts';
import { type EnteredReading, enterReadings } from './readings.ts';
import { factorWords, phaseWords } from './table.ts';

/** Entering what was read, and mending what was entered wrongly. */
export function readingPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/readings/new', (request, reply) => showBench(service, request, reply));
  app.get('/water/systems/:id/repeats', (request, reply) => showBench(service, request, reply));
  app.post('/water/systems/:id/readings', (request, reply) => postReadings(service, request, reply));
  app.get('/water/readings/:id', (request, reply) => showReading(service, request, reply));
  app.post('/water/readings/:id/correction', (request, reply) => postCorrection(service, request, reply));
}

const systemId = (request: FastifyRequest) => pathId(request, 'id', 'This system');

/** True on the page that asks for repeats: it is shown right after a reading that surprised. */
const asksRepeats = (request: FastifyRequest) => request.routeOptions.url?.endsWith('/repeats') ?? false;

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
  const drawn = rows.map((row) => drawnRow(row, form));
  const repeats = drawn.filter((row) => row.waits !== null);
  const others = drawn.filter((row) => row.waits === null);
  const back = backOf(request);
  const data = {
    system,
    isManager: request.person.role !== 'hand',
    repeats,
    asksNow: asksRepeats(request) && repeats.length > 0,
    rows: others.filter((row) => row.open),
    rare: others.filter((row) => !row.open),
    latest: inputMoment(now, timeZone),
    back,
    away: back ?? `/water/systems/${system.id}`,
  };
  return showPage(service, request, reply, 'water/bench', data, {
    title: `${data.asksNow ? 'Test again' : 'Readings'}: ${system.name}`,
    area: 'water',
    form,
  });
}

/** A row with what was typed, refused and asked. */
function drawnRow(row: BenchRow, form: FormState) {
  const { text, unit, how, sure, mode } = row.names;
  const message = (field: string) => form.errors.find((error) => error.field === field)?.message ?? null;
  const typed = (name: string, otherwise: string) => String(form.typed[name] ?? otherwise);
  const unitTyped = typed(unit, row.unit);
  const doubt = message(sure);
  return {
    ...row,
    typed: typed(text, ''),
    unit: unitTyped,
    how: typed(how, row.how),
    mode: typed(mode, ''),
    // In doubt whether it was diluted or read from the side, the answer can be given at once.
    modes: doubt !== null && row.modes.length === 0 ? modeChoices(null) : row.modes,
    sure: typed(sure, ''),
    error: message(text),
    doubt,
    really: `It really is ${typed(text, '')} ${unitName(row.code, unitTyped)}`.trim(),
    open: !row.rare || typed(text, '') !== '',
  };
}

async function postReadings(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = systemId(request);
  const codes = (await listQuantities(service.db)).map((quantity) => quantity.code);
  return submit(request, reply, {
    schema: readingsForm(codes, request.site.timeZone, service.now()),
    act: (work, typed) => enterReadings(work, { systemId: id, ...typed }),
    done: ({ readings }) => ({ to: nextOf(id, readings, backOf(request)), notice: savedWords(readings) }),
    again: (form) => showBench(service, request, reply, form),
  });
}

/** Where the person goes next: to the repeat of a surprising reading, while the test still stands on the bench; else back. */
function nextOf(id: string, readings: readonly EnteredReading[], back: string | null): string {
  if (readings.some((one) => one.trust === 'unconfirmed'))
    return `/water/systems/${id}/repeats${back === null ? '' : `?back=${encodeURIComponent(back)}`}`;
  return back ?? `/water/systems/${id}?quantity=${readings[0]?.quantityCode ?? ''}`;
}

/** "Saved: Alkalinity 8.3 dKH, Nitrate 7.6 mg/L as NO₃. Test again: Alkalinity 6.9 dKH." */
export function savedWords(readings: readonly EnteredReading[]): string {
  const said = readings.map((one) => `${one.name} ${one.said}`).join(', ');
  const again = readings.filter((one) => one.trust === 'unconfirmed').map((one) => one.name);
  const cautions = readings.map((one) => one.caution).filter((caution) => caution !== '');
  const asks = again.length === 0 ? [] : [`Test again: ${again.join(', ')}.`];
  return [`Saved: ${said}.`, ...asks, ...cautions].join(' ');
}

async function showReading(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const reading = await findReading(service.db, pathId(request, 'id', 'This reading'));
  const { quantity } = reading;
  const [bench, biases, target, hours] = await Promise.all([
    benchOf(service.db, [quantity.code]),
    kitBiases(service.pool, reading.kitId === null ? [] : [reading.kitId]),
    service.db.systemQuantity.findFirst({
      where: { systemId: reading.systemId, quantityCode: quantity.code },
    }),
    hoursSinceDose(service.db, reading),
  ]);
  const kit = biases.get(reading.kitId ?? '');
  const right = withoutBias({ ...reading, below: reading.belowDetection }, kit);
  const how = reading.kitId ? `${reading.methodId}/${reading.kitId}` : (reading.methodId ?? '');
  const hows = howChoices(bench.methods);
  const form =
    refused ??
    freshForm({
      text: reading.enteredText,
      unit: reading.enteredUnit,
      how,
      mode: modeOf(reading.factor),
      reason: '',
    });
  const doubt = form.errors.find((error) => error.field === 'sure')?.message ?? null;
  const data = {
    reading,
    said: say(quantity, reading.value, reading.belowDetection),
    uncertainty: sayDifference(quantity, reading.uncertainty, reading.value),
    interval: intervalWords(quantity, reading),
    caution: cannotTell(
      quantity,
      { ...reading, below: reading.belowDetection },
      {
        low: target?.bandLow ?? null,
        high: target?.bandHigh ?? null,
      },
    ),
    corrected:
      right === null
        ? null
        : `${say(quantity, right.value)} ± ${sayDifference(quantity, right.uncertainty, right.value)}`,
    kitSays: kit === undefined ? '' : `${kit.label} ${biasWords(kit)}`,
    phase: hours === null ? null : phaseWords(hours),
    modes: modesOf(bench.methods),
    entered: `${reading.enteredText} (${unitName(quantity.code, reading.enteredUnit) || reading.enteredUnit})${factorWords(reading.factor)}`,
    advice:
      reading.trust === 'unconfirmed'
        ? whatSettles(quantity, { ...reading, below: reading.belowDetection })
        : null,
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
  };
  const title = `${quantity.name} in ${reading.system.name}`;
  return showPage(service, request, reply, 'water/reading', data, { title, area: 'water', form });
}

/** "between 0.003 and 0.040 mg/L", where the true value lies 19 times in 20. */
function intervalWords(
  quantity: Quantity,
  { value, uncertainty, belowDetection }: { value: number; uncertainty: number; belowDetection: boolean },
): string {
  const { low, high } = intervalOf(quantity, { value, uncertainty, below: belowDetection });
  return sayBand(quantity, low, high) ?? '';
}

/** The way of reading that a factor stands for, as the form's list has it. */
function modeOf(factor: number): string {
  return factor < 1 ? 'side' : factor > 1 ? String(factor) : '';
}

async function postCorrection(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This reading');
  return submit(request, reply, {
    schema: correctionSchema,
    act: (work, { how, mode, ...typed }) =>
      correctReading(work, id, { ...typed, ...splitHow(how), ...splitMode(mode) }),
    done: ({ reading, systemId: system }) => ({
      to: `/water/systems/${system}?quantity=${reading.quantityCode}`,
      notice: `Corrected: ${savedWords([reading]).replace('Saved: ', '')} The old one stays in view, struck through.`,
    }),
    again: (form) => showReading(service, request, reply, form),
  });
}
