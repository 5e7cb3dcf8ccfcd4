import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../platform/service.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { inputMoment } from '../platform/web/moments.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import { findLamp } from './lamps.ts';
import { findRack, type Rack } from './racks.ts';
import { rowLetter, slotName } from './slots.rules.ts';
import { doubtAbout } from './survey-comparison.ts';
import { surveySchema, voidSchema } from './surveys.schema.ts';
import { enterSurvey, findSurvey, listSurveys, slotsOf, surveyGrid, voidSurvey } from './surveys.ts';

/** Measuring a rack's light: the form, what it found, and saying that a survey does not count. */
export function surveyPages(app: FastifyInstance, service: Service): void {
  const manager = { config: { access: 'manager' as const } };
  app.get('/racks/:id/surveys', (request, reply) => showSurveys(service, request, reply));
  app.get('/racks/:id/surveys/new', (request, reply) => showNew(service, request, reply));
  app.post('/racks/:id/surveys', (request, reply) => postSurvey(service, request, reply));
  app.get('/racks/:id/surveys/:survey', (request, reply) => showSurvey(service, request, reply));
  app.post('/racks/:id/surveys/:survey/voiding', manager, (request, reply) =>
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

/** The meter as it was last time anywhere on the farm, and the setting in force. */
async function lastMeter(service: Service, rack: Rack) {
  const [last, lamp] = await Promise.all([
    service.db.lightSurvey.findFirst({ where: { voidedAt: null }, orderBy: { createdAt: 'desc' } }),
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

async function metersKnown(service: Service): Promise<string[]> {
  const known = await service.db.lightSurvey.groupBy({ by: ['meter'], orderBy: { meter: 'asc' } });
  return known.map((one) => one.meter);
}

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const rack = await rackOf(service, request);
  const [{ meter, percent, lamp }, meters] = await Promise.all([
    lastMeter(service, rack),
    metersKnown(service),
  ]);
  const measuredAt = inputMoment(service.now(), request.site.timeZone);
  const form = refused ?? freshForm({ measuredAt, ...meter, lampPercent: percent, note: '' });
  const errors = new Set(form.errors.map((error) => error.field));
  const columns = Array.from({ length: rack.columns }, (_, i) => i + 1);
  const grid = Array.from({ length: rack.rows }, (_, i) => ({
    letter: rowLetter(i + 1),
    cells: columns.map((column) => {
      const name = slotName({ row: i + 1, column });
      return { name, value: form.typed[name] ?? '', refused: errors.has(name) };
    }),
  }));
  const askFactor = errors.has('immersionFactor') || form.typed.factorChecked !== undefined;
  const data = { rack, lamp, meters, columns, grid, askFactor, shownOptions };
  const title = `Measure the light on ${rack.name}`;
  return showPage(service, request, reply, 'racks/survey-new', data, { title, area: 'racks', form });
}

async function postSurvey(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const rack = await rackOf(service, request);
  const slots = await slotsOf(service.db, rack);
  const { timeZone } = request.site;
  return submit(request, reply, {
    schema: surveySchema(slots, rack.lamp !== null, timeZone, service.now()),
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
  const [grid, doubt] = await Promise.all([
    surveyGrid(service.db, rack, survey.id),
    doubtAbout(service.db, survey),
  ]);
  const rows = grid.map((cells, i) => ({ letter: rowLetter(i + 1), cells }));
  const columns = Array.from({ length: rack.columns }, (_, i) => i + 1);
  const readings = grid.flat().filter((cell) => cell?.measured === true).length;
  const data = { rack, survey, rows, columns, readings, doubt };
  const form = refused ?? freshForm({ reason: '' });
  const title = `Light survey of ${rack.name}`;
  return showPage(service, request, reply, 'racks/survey', data, { title, area: 'racks', form });
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
