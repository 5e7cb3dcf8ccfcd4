import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { inputLitres, litres, volumeInWords } from '../../platform/units/measures.ts';
import { unitsNow } from '../../platform/units/units.ts';
import { isManager } from '../../platform/web/access.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { inputNumber, numberWords } from '../../platform/words/numbers.ts';
import { WEEKDAYS } from '../../platform/words/weekdays.ts';
import { computedSubstances } from '../dosing/dose-effect.rules.ts';
import { doseUnits, usedSubstances } from '../log/doses.ts';
import { listFedTanks, usedFoods } from '../log/feedings.ts';
import { listQuantities } from '../quantities/quantities.ts';
import { findWaterSystem, type WaterSystem } from '../systems/systems.ts';
import { cadenceWords, routineTitle } from './routines.rules.ts';
import { endSchema, ROUTINE_WORK, type RoutineWork, routineSchema } from './routines.schema.ts';
import {
  changeRoutine,
  endRoutine,
  findRoutine,
  listRoutines,
  planRoutine,
  type Routine,
  runningInPlaceOf,
} from './routines.ts';
import { readTestSchedule } from './test-schedule.ts';
import { scheduleWords } from './test-schedule.words.ts';

/** The routines of a system: planned here, ticked off on rounds, done when the work is logged anywhere. */
export function routinePages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/routines', (request, reply) => showRoutines(service, request, reply));
  app.get('/water/systems/:id/routines/new', (request, reply) => showNew(service, request, reply));
  app.post(
    '/water/systems/:id/routines',
    takes(({ timeZone, now }) => routineSchema(timeZone, now)),
    (request, reply) => postNew(service, request, reply),
  );
  app.get('/water/routines/:id', (request, reply) => showRoutine(service, request, reply));
  app.post(
    '/water/routines/:id',
    takes(({ timeZone, now }) => routineSchema(timeZone, now)),
    (request, reply) => postRoutine(service, request, reply),
  );
  app.post('/water/routines/:id/end', takes(endSchema), (request, reply) => postEnd(service, request, reply));
}

const listPath = (systemId: string) => `/water/systems/${systemId}/routines`;
const newPath = (systemId: string, work: RoutineWork) => `${listPath(systemId)}/new?work=${work}`;
const workWords: Readonly<Record<RoutineWork, string>> = {
  test: 'A test',
  water_change: 'A water change',
  dose: 'A dose',
  feeding: 'A feeding',
};

async function showRoutines(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const [now, system] = [
    service.now(),
    await findWaterSystem(service.db, pathId(request, 'id', 'This system')),
  ];
  const { running, ended } = await listRoutines(service.pool, [system.id], now);
  const today = localDay(now, request.site.timeZone);
  const schedule = await readTestSchedule(service, system, running, now);
  const data = {
    system,
    mayPlan: isManager(request.person.role) && system.retiredAt === null,
    running: running.map((routine) => rowOf(routine, today)),
    schedule: scheduleWords(schedule, today),
    ended: ended.map((routine) => ({
      title: routineTitle(routine),
      every: cadenceWords(routine),
      endedAt: routine.endedAt,
    })),
    add: ROUTINE_WORK.map((work) => ({ href: newPath(system.id, work), text: workWords[work] })),
  };
  const title = `Routines: ${system.name}`;
  return showPage(service, request, reply, 'water/routines', data, { title, area: 'water' });
}

function rowOf(routine: Routine, today: string) {
  const { id, lastAt, dueOn, version } = routine;
  const late = calendarDaysBetween(dueOn, today);
  return {
    id,
    version,
    title: routineTitle(routine),
    every: cadenceWords(routine),
    lastAt,
    dueOn,
    due: late > 0 ? 'overdue' : late === 0 ? 'today' : '',
  };
}

const blank = {
  work: 'test',
  quantityCode: '',
  volume: '',
  volumeUnit: 'L',
  substance: '',
  amount: '',
  unit: 'mL',
  reason: '',
  food: '',
  amountG: '',
  tankId: '',
  pumpsOffMin: '',
  everyDays: '',
  startsOn: '',
  version: '0',
};

/** The values that the form starts with, from the address: ?work=water_change&volume=180&every=7. */
interface PrefillQuery extends Partial<Record<keyof typeof blank, string>> {
  quantity?: string;
  every?: string;
}

function prefilled(request: FastifyRequest, today: string): FormState {
  const { quantity, every, ...fields } = request.query as PrefillQuery;
  const work = ROUTINE_WORK.find((one) => one === fields.work) ?? 'test';
  const known = Object.fromEntries(Object.entries(fields).filter(([name]) => name in blank));
  return freshForm({
    ...blank,
    startsOn: today,
    quantityCode: quantity ?? '',
    everyDays: every ?? '',
    ...known,
    work,
    version: 0,
  });
}

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const form = refused ?? prefilled(request, localDay(service.now(), request.site.timeZone));
  const planned = await plannedAlready(service, system.id, form);
  if (planned !== null && refused === undefined) return reply.redirect(changePath(planned, form), 303);
  return showForm(service, request, reply, { system, form, routine: null, planned });
}

/**
 * The running routine that the form would be a second one of: the water change of a system, the test of one quantity.
 * Null where there is none, or where two may run side by side.
 */
async function plannedAlready(service: Service, systemId: string, { typed }: FormState) {
  const { running } = await listRoutines(service.pool, [systemId], service.now());
  const isSame = ({ plan }: Routine) =>
    (plan.work === 'water_change' && typed.work === 'water_change' && (typed.volume ?? '') !== '') ||
    (plan.work === 'test' && typed.work === 'test' && plan.quantityCode === typed.quantityCode);
  return running.find(isSame) ?? null;
}

/** The form of the routine that is planned, filled with what was asked for in its place. */
function changePath({ id }: Routine, { typed }: FormState): string {
  const { volume = '', volumeUnit = '', everyDays = '' } = typed;
  const asked = {
    ...(volume === '' ? {} : { volume: String(volume), volumeUnit: String(volumeUnit) }),
    ...(everyDays === '' ? {} : { every: String(everyDays) }),
  };
  return `/water/routines/${id}?${new URLSearchParams(asked)}`;
}

/** The form of a new routine, or of the one that is changed. */
interface RoutineForm {
  system: WaterSystem;
  form: FormState;
  routine: Routine | null;
  /** What somebody else left there meanwhile. */
  theirs?: string | null;
  /** The running routine that this one would be a second of. */
  planned?: Routine | null;
}

async function showForm(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  { system, form, routine, theirs = null, planned = null }: RoutineForm,
) {
  const { db } = service;
  const [quantities, dosed, fed, tanks] = await Promise.all([
    listQuantities(db),
    usedSubstances(db, system.id),
    usedFoods(db, system.id),
    listFedTanks(db, system.id),
  ]);
  const title = routine === null ? 'Plan a routine' : routineTitle(routine);
  const data = {
    system,
    title,
    routine,
    theirs,
    now: nowWords(routine, form, system),
    planned:
      planned === null
        ? null
        : {
            title: routineTitle(planned),
            every: cadenceWords(planned),
            href: changePath(planned, form),
          },
    list: listPath(system.id),
    action: routine === null ? listPath(system.id) : `/water/routines/${routine.id}`,
    tabs: ROUTINE_WORK.map((work) => ({
      href: newPath(system.id, work),
      text: workWords[work],
      here: work === form.typed.work,
    })),
    asksWhy: form.errors.some(({ field }) => field === 'reason') || (form.typed.reason ?? '') !== '',
    quantities: quantities.map(({ code, name }) => ({ value: code, text: name })),
    volumeUnits: [
      { value: unitsNow().volume, text: volumeInWords() },
      { value: '%', text: `per cent of ${litres(system.volumeL)}` },
    ],
    substances: [...new Set([...dosed, ...computedSubstances])],
    units: doseUnits.map((unit) => ({ value: unit, text: unit })),
    foods: fed,
    days: WEEKDAYS.map((text, i) => ({
      value: String(i + 1),
      text,
      ticked: [form.typed.weekdays ?? []].flat().includes(String(i + 1)),
    })),
    tanks: tanks.map(({ id, name }) => ({ value: id, text: name })),
  };
  const options = {
    title: `${title}: ${system.name}`,
    area: 'water' as const,
    form: { ...form, typed: { ...blank, ...form.typed } },
  };
  return showPage(service, request, reply, 'water/routine', data, options);
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This system');
  return submit(request, reply, {
    schema: routineSchema(request.site.timeZone, service.now()),
    act: (work, value) => planRoutine(work, id, value),
    done: (_, planned) => ({
      to: listPath(id),
      notice: `Planned: ${cadenceWords(planned)}. It shows on every round that passes this system when it is due.`,
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}

const routineId = (request: FastifyRequest) => pathId(request, 'id', 'This routine');

/** The values of the form of an existing routine; its first day is when it is due next. */
function routineFormValues({ plan, everyDays, weekdays, dueOn, version }: Routine, today: string): FormState {
  const detail =
    plan.work === 'water_change'
      ? { work: plan.work, volume: inputLitres(plan.volumeL), volumeUnit: unitsNow().volume }
      : plan;
  const byDays = weekdays.length > 0;
  const form = freshForm({
    ...blank,
    ...detail,
    everyDays: byDays ? '' : inputNumber(everyDays, 2),
    startsOn: dueOn < today ? today : dueOn,
    version,
  });
  return { ...form, typed: { ...form.typed, weekdays: weekdays.map(String) } };
}

async function showRoutine(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const asked = await findRoutine(service.pool, routineId(request), service.now());
  if (asked.endedAt !== null && refused === undefined) return reply.redirect(listPath(asked.systemId), 303);
  const [system, routine] = await Promise.all([
    findWaterSystem(service.db, asked.systemId),
    runningInPlaceOf(service.pool, asked.id, service.now()),
  ]);
  const fresh = routineFormValues(routine ?? asked, localDay(service.now(), request.site.timeZone));
  if (refused === undefined) askFor(fresh, request.query as PrefillQuery);
  // The button that ends it sends nothing of the form: the form then says what is there now.
  const drawn = refused === undefined ? fresh : { ...refused, typed: { ...fresh.typed, ...refused.typed } };
  const { form, theirs } = afterStale(
    drawn,
    reply,
    // What was ended meanwhile becomes a new routine when the form is sent again.
    { version: routine?.version ?? 0 },
    routine === null ? 'it was ended' : `${routineTitle(routine)}, ${cadenceWords(routine)}`,
  );
  return showForm(service, request, reply, { system, form, routine, theirs });
}

/** Puts what the address asks for in place of what is planned. */
function askFor(form: FormState, { volume = '', volumeUnit = 'L', every = '' }: PrefillQuery): void {
  if (volume !== '') Object.assign(form.typed, { volume, volumeUnit });
  if (every !== '') Object.assign(form.typed, { everyDays: every, weekdays: [] });
}

/** What is planned now, where the form was filled with something else: "120 L (12 %) every week"; else "". */
function nowWords(routine: Routine | null, { typed }: FormState, { volumeL }: WaterSystem): string {
  if (routine?.plan.work !== 'water_change') return '';
  const { plan, everyDays, weekdays } = routine;
  const isAsPlanned = typed.volumeUnit === unitsNow().volume && typed.volume === inputLitres(plan.volumeL);
  const isAsOften =
    weekdays.length > 0 ? typed.everyDays === '' : typed.everyDays === inputNumber(everyDays, 2);
  if (isAsPlanned && isAsOften) return '';
  const share = numberWords(Math.round((100 * plan.volumeL) / volumeL));
  return `${litres(plan.volumeL)} (${share} %) ${cadenceWords(routine)}`;
}

async function postRoutine(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = routineId(request);
  return submit(request, reply, {
    schema: routineSchema(request.site.timeZone, service.now()),
    act: (work, value) => changeRoutine(work, id, value),
    done: ({ systemId }) => ({
      to: listPath(systemId),
      notice: 'Changed. The plan before it stays in the history.',
    }),
    again: (form) => showRoutine(service, request, reply, form),
  });
}

async function postEnd(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = routineId(request);
  return submit(request, reply, {
    schema: endSchema,
    act: (work, { version }) => endRoutine(work, id, version),
    done: ({ systemId }) => ({
      to: listPath(systemId),
      notice: 'Ended. It is no longer due; what was logged stays.',
    }),
    again: (form) => showRoutine(service, request, reply, form),
  });
}
