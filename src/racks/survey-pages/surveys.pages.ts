import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { findLamp } from '../../farm/lamps/lamps.ts';
import { findRack, type Rack } from '../../farm/racks/racks.ts';
import { rowLetter } from '../../farm/racks/slots.rules.ts';
import { slotsOfRack } from '../../farm/racks/slots.ts';
import { compareWithBefore } from '../../farm/surveys/comparison.ts';
import {
  extrapolatedSlots,
  slotPitch,
  slotsToMeasure,
  surveyAccuracy,
} from '../../farm/surveys/light-map.rules.ts';
import { joinPasted, readPasted } from '../../farm/surveys/pasted-sheet.rules.ts';
import { surveySchema, voidSchema } from '../../farm/surveys/surveys.schema.ts';
import {
  enterSurvey,
  findSurvey,
  lastEnteredSurvey,
  listMeters,
  listSurveys,
  type SurveyCell,
  surveyGrid,
  voidSurvey,
} from '../../farm/surveys/surveys.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { type SlotOccupancy, slotOccupancy } from '../../stock/places/occupancy.ts';
import { lightTone } from '../drawing/light-tones.rules.ts';

/** Measuring a rack's light: the form, what it found, and saying that a survey does not count. */
export function surveyPages(app: FastifyInstance, service: Service): void {
  app.get('/racks/:id/surveys', (request, reply) => showSurveys(service, request, reply));
  app.get('/racks/:id/surveys/new', (request, reply) => showNew(service, request, reply));
  app.post(
    '/racks/:id/surveys',
    takes(({ timeZone, now }) => surveySchema([], false, timeZone, now, null)),
    (request, reply) => postSurvey(service, request, reply),
  );
  app.get('/racks/:id/surveys/:survey', (request, reply) => showSurvey(service, request, reply));
  app.post('/racks/:id/surveys/:survey/voiding', takes(voidSchema), (request, reply) =>
    postVoid(service, request, reply),
  );
}

const shownOptions = [
  { value: 'raw', text: "The sensor's own figure: apply the factor here" },
  { value: 'corrected', text: 'Already corrected for water: never apply it twice' },
];

const rackOf = (service: Service, request: FastifyRequest) =>
  findRack(service.db, pathId(request, 'id', 'This rack'));

async function showSurveys(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const rack = await rackOf(service, request);
  const data = { rack, surveys: await listSurveys(service.db, rack.id) };
  const title = `Light surveys of ${rack.name}`;
  return showPage(service, request, reply, 'racks/surveys', data, { title, area: 'racks' });
}

/** The meter as it was last time anywhere at the site, and the setting in force. */
async function lastMeter(service: Service, siteId: string, rack: Rack) {
  const [last, lamp] = await Promise.all([
    lastEnteredSurvey(service.db, siteId),
    rack.lamp === null ? null : findLamp(service.db, rack.lamp.id),
  ]);
  const meter = last === null ? { meter: '', immersionFactor: '', shown: '' } : meterOf(last);
  return { meter, percent: lamp?.setting?.percent ?? '', lamp };
}

const meterOf = (last: { meter: string; immersionFactor: number; factorInMeter: boolean }) => ({
  meter: last.meter,
  immersionFactor: last.immersionFactor,
  shown: last.factorInMeter ? 'corrected' : 'raw',
});

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const rack = await rackOf(service, request);
  const [{ meter, percent, lamp }, meters, slots] = await Promise.all([
    lastMeter(service, request.site.id, rack),
    listMeters(service.db, request.site.id),
    slotOccupancy(service.pool, [rack.id], service.now()),
  ]);
  const measuredAt = inputMoment(service.now(), request.site.timeZone);
  const form = refused ?? freshForm({ measuredAt, ...meter, lampPercent: percent, pasted: '', note: '' });
  const errors = new Set(form.errors.map((error) => error.field));
  const next = suggestedSlots(rack, slots);
  const inputs = slots.map((slot) => inputOf(slot, next, form, errors.has(slot.name)));
  const columns = Array.from({ length: rack.columns }, (_, i) => i + 1);
  const grid = Array.from({ length: rack.rows }, (_, i) => ({
    letter: rowLetter(i + 1),
    cells: inputs.slice(i * rack.columns, (i + 1) * rack.columns),
  }));
  const askFactor = errors.has('immersionFactor') || form.typed.factorChecked !== undefined;
  const data = { rack, lamp, meters, columns, grid, askFactor, shownOptions, next: next.join(', ') };
  const title = `Measure the light on ${rack.name}`;
  const scripts = ['/assets/survey.js'];
  return showPage(service, request, reply, 'racks/survey-new', data, { title, area: 'racks', form, scripts });
}

/** The names of the slots where a reading helps most, best first. */
function suggestedSlots(rack: Rack, slots: readonly SlotOccupancy[]): string[] {
  const places = slots.map(({ id, row, column }) => ({ slotId: id, row, column }));
  const readings = slots.flatMap(({ id, row, column, light }) =>
    light?.measured === true ? [{ slotId: id, row, column, par: light.par }] : [],
  );
  const names = new Map(slots.map((slot) => [slot.id, slot.name]));
  return slotsToMeasure(readings, places, slotPitch(rack)).flatMap((id) => names.get(id) ?? []);
}

function inputOf(slot: SlotOccupancy, next: readonly string[], form: FormState, refused: boolean) {
  const { name, light, lot } = slot;
  const order = next.indexOf(name) + 1;
  const last = light === null ? '' : String(Math.round(light.par));
  const said = [
    name,
    ...(lot === null ? [] : [lot.code]),
    ...(last === '' ? [] : [`${light?.measured === true ? 'last' : 'estimated'} ${last}`]),
    ...(order === 0 ? [] : ['measure next']),
  ];
  return {
    name,
    said: said.join(', '),
    value: form.typed[name] ?? '',
    refused,
    tone: lightTone(light?.par ?? null),
    last: last === '' || light?.measured === true ? last : `(${last})`,
    order: order === 0 ? '' : String(order),
  };
}

async function postSurvey(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const rack = await rackOf(service, request);
  const slots = await slotsOfRack(service.db, rack);
  const { timeZone } = request.site;
  const typed = (request.body ?? {}) as Record<string, unknown>;
  const pasted = typeof typed.pasted === 'string' ? typed.pasted : '';
  const { joined, fault } = joinPasted(typed, readPasted(pasted, rack));
  // Read into the grid, where what is wrong with a number stands beside its slot.
  request.body = fault === null ? { ...joined, pasted: '' } : joined;
  return submit(request, reply, {
    schema: surveySchema(slots, rack.lamp !== null, timeZone, service.now(), fault),
    act: (work, value) => enterSurvey(work, rack.id, value, timeZone),
    done: ({ id }) => ({ to: `/racks/${rack.id}/surveys/${id}`, notice: 'The survey is entered.' }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showSurvey(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const rack = await rackOf(service, request);
  const survey = await findSurvey(service.db, rack.id, pathId(request, 'survey', 'This survey'));
  const [grid, comparison] = await Promise.all([
    surveyGrid(service.db, rack, survey.id),
    compareWithBefore(service.db, survey, request.site.timeZone),
  ]);
  const columns = Array.from({ length: rack.columns }, (_, i) => i + 1);
  const certainty = certaintyOf(rack, grid);
  const data = { rack, survey, columns, ...certainty, ...comparison };
  const form = refused ?? freshForm({ reason: '' });
  const title = `Light survey of ${rack.name}`;
  return showPage(service, request, reply, 'racks/survey', data, { title, area: 'racks', form });
}

/** How certain a survey's light is: the extrapolated slots, how exact the estimates are, where to measure next. */
function certaintyOf(rack: Rack, grid: (SurveyCell | null)[][]) {
  const cells = grid.flat().filter((cell) => cell !== null);
  const slots = cells.map(({ id, row, column, par }) => ({ slotId: id, row, column, par }));
  const readings = slots.filter((_, i) => cells[i]?.measured === true);
  const extrapolated = extrapolatedSlots(cells.map((cell) => ({ ...cell, light: cell })));
  const names = new Map(cells.map(({ id, name }) => [id, name]));
  const next = slotsToMeasure(readings, slots, slotPitch(rack)).flatMap((id) => names.get(id) ?? []);
  const rows = grid.map((line, i) => ({
    letter: rowLetter(i + 1),
    cells: line.map((cell) => (cell === null ? null : { ...cell, extrapolated: extrapolated.has(cell.id) })),
  }));
  const accuracy = surveyAccuracy(readings, slotPitch(rack));
  return {
    rows,
    readings: readings.length,
    extrapolated: extrapolated.size,
    next: next.join(', '),
    accuracy,
  };
}

async function postVoid(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const rackId = pathId(request, 'id', 'This rack');
  const id = pathId(request, 'survey', 'This survey');
  return submit(request, reply, {
    schema: voidSchema,
    act: (work, { reason }) => voidSurvey(work, rackId, id, reason),
    done: () => ({ to: `/racks/${rackId}`, notice: 'The survey no longer counts. It stays in sight.' }),
    again: (form) => showSurvey(service, request, reply, form),
  });
}
