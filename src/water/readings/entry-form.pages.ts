import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { isManager } from '../../platform/web/access.ts';
import { backOf } from '../../platform/web/back.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { listQuantities, unitName } from '../quantities/quantities.ts';
import { findOpenWaterSystem } from '../systems/systems.ts';
import { type EntryFormRow, entryFormRows } from './entry-form.ts';
import { readingsForm } from './readings.schema.ts';
import { type EnteredReading, enterReadings } from './readings.ts';

/** The form on which a person enters what was tested, and the page that asks for a repeat of a surprising reading. */
export function entryFormPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/readings/new', (request, reply) => showForm(service, request, reply));
  app.get('/water/systems/:id/repeats', (request, reply) => showForm(service, request, reply));
  app.post(
    '/water/systems/:id/readings',
    takes(({ timeZone, now }) => readingsForm(['alkalinity'], timeZone, now)),
    (request, reply) => postReadings(service, request, reply),
  );
}

const systemId = (request: FastifyRequest) => pathId(request, 'id', 'This system');

/** True on the page that asks for repeats: it is shown right after a reading that surprised. */
const asksRepeats = (request: FastifyRequest) => request.routeOptions.url?.endsWith('/repeats') ?? false;

async function showForm(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const system = await findOpenWaterSystem(service.db, systemId(request));
  const [now, { timeZone }] = [service.now(), request.site];
  const rows = await entryFormRows(service, {
    systemId: system.id,
    personId: request.person.id,
    now,
    timeZone,
  });
  const form = refused ?? freshForm({ at: inputMoment(now, timeZone), note: '' });
  const drawn = rows.map((row) => drawnRow(row, form));
  const repeats = drawn.filter((row) => row.waits !== null);
  const others = drawn.filter((row) => row.waits === null);
  const back = backOf(request);
  const data = {
    system,
    isManager: isManager(request.person.role),
    repeats,
    asksNow: asksRepeats(request) && repeats.length > 0,
    rows: others.filter((row) => row.open),
    rare: others.filter((row) => !row.open),
    latest: inputMoment(now, timeZone),
    back,
    away: back ?? `/water/systems/${system.id}`,
  };
  return showPage(service, request, reply, 'water/entry-form', data, {
    title: `${data.asksNow ? 'Test again' : 'Readings'}: ${system.name}`,
    area: 'water',
    form,
  });
}

/** A row with what was typed, refused and asked. */
function drawnRow(row: EntryFormRow, form: FormState) {
  const { text, unit, how, sure, mode, dilution } = row.names;
  const message = (field: string) => form.errors.find((error) => error.field === field)?.message ?? null;
  const typed = (name: string, otherwise: string) => String(form.typed[name] || otherwise);
  const unitTyped = typed(unit, row.unit);
  const doubt = message(sure);
  return {
    ...row,
    typed: typed(text, ''),
    unit: unitTyped,
    how: typed(how, row.how),
    mode: typed(mode, ''),
    dilution: typed(dilution, ''),
    dilutionError: message(dilution),
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
    again: (form) => showForm(service, request, reply, form),
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
