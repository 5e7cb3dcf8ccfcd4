import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { systemsInService } from '../../farm/systems/systems.ts';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import { isManager } from '../../platform/web/access.ts';
import { optionalText } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { dateWords } from '../../platform/words/times.ts';
import { receivedLight } from '../deliveries/received-light.ts';
import { accustomedWords } from '../light/words.ts';
import { placeOfSlots } from '../places/slots.ts';
import {
  type AcclimationRequest,
  acclimationRequestSchema,
  LIGHT_WORDS,
  RECEIVED,
} from './acclimations.schema.ts';
import { draftAcclimation, planAcclimation } from './acclimations.ts';
import { readLampWithLots } from './draft-by-lamps.ts';
import { type LotGroup, lotGroupOnRack, lotIdsOf, recentDeliveries } from './lot-choices.ts';
import { type LotWithLight, readLotsWithLight } from './lots.ts';
import { previewOf } from './preview.ts';

/** The plan that was asked for, and what of it was read before. */
const planBody = (siteId: string, today: string) =>
  z.intersection(z.object({ seen: optionalText(20_000) }), acclimationRequestSchema(siteId, today));

/** Planning an acclimation: the lots or the lamps, what it would be, and only then the plan itself. */
export function newAcclimationPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/acclimations/new', (request, reply) => showNew(service, request, reply));
  app.post(
    '/stock/acclimations',
    takes(({ site, today }) => planBody(site.id, today)),
    (request, reply) => postNew(service, request, reply),
  );
}

type Typed = Record<string, string | string[]>;

/** What was chosen so far: in the address while it is looked at, in the form once it is planned. */
function typedOf(request: FastifyRequest): Typed {
  const sent = { ...(request.query as Typed), ...(request.body as Typed | undefined) };
  const { _csrf, _key, ...typed } = sent;
  return typed;
}

const one = (typed: Typed, name: string) => [typed[name] ?? ''].flat().at(-1) ?? '';
const valuesOf = (typed: Typed, name: string) => [typed[name] ?? []].flat().filter((value) => value !== '');
const isId = (value: string) => z.uuid().safeParse(value).success;

/** The lots meant: ticked, or named by code in the address. */
async function occupantsOf(
  service: Service,
  siteId: string,
  typed: Typed,
): Promise<{ ids: string[]; unknown: string[] }> {
  const codes = valuesOf(typed, 'lot')
    .flatMap((text) => text.split(/[\s,;]+/))
    .filter((code) => code !== '');
  const named = codes.length === 0 ? { ids: [], unknown: [] } : await lotIdsOf(service.pool, siteId, codes);
  return {
    ids: [...new Set([...valuesOf(typed, 'lots').filter(isId), ...named.ids])],
    unknown: named.unknown,
  };
}

async function showNew(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
): Promise<FastifyReply> {
  const typed = typedOf(request);
  const lampId = one(typed, 'lamp');
  if (isId(lampId)) return showLamps(service, request, reply, lampId, typed, refused);
  const { ids, unknown } = await occupantsOf(service, request.site.id, typed);
  if (ids.length === 0) return showChoice(service, request, reply, typed, unknown);
  return showPlaces(service, request, reply, ids, typed, refused);
}

/** Which lots? Those of a rack, those that came together, or by their codes. */
async function showChoice(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  typed: Typed,
  unknown: readonly string[],
) {
  const now = service.now();
  const rackId = one(typed, 'rack');
  const { timeZone } = request.site;
  const groups: LotGroup[] = isId(rackId)
    ? await lotGroupOnRack(service.pool, request.site.id, rackId)
    : await recentDeliveries(service.pool, request.site.id, now, (day) => dateWords(day, timeZone));
  const errors = unknown.map((code) => ({
    field: 'lot',
    message: `There is no lot ${code}. Check the code.`,
  }));
  const form = { ...freshForm({ lot: one(typed, 'lot') }), errors };
  const asked = one(typed, 'show') === 'yes';
  if (asked && errors.length === 0)
    form.errors = [{ field: 'lot', message: 'Choose the lots to acclimate.' }];
  const data = { groups, byRack: isId(rackId) };
  return showPage(service, request, reply, 'stock/acclimation-lots', data, {
    title: 'Plan an acclimation',
    area: 'stock',
    form,
  });
}

/** The draft of what was typed, once it was asked for. */
async function lookAt(service: Service, request: FastifyRequest, typed: object) {
  const now = service.now();
  const parsed = acclimationRequestSchema(request.site.id, localDay(now, request.site.timeZone)).safeParse(
    typed,
  );
  if (!parsed.success) return { errors: fieldErrors(parsed.error), preview: null };
  const draft = await draftAcclimation(service.pool, parsed.data, now);
  if (!draft.ok) return { errors: [{ field: draft.field, message: draft.refused }], preview: null };
  return { errors: [], preview: previewOf(draft, parsed.data.startsOn) };
}

const blank = {
  targetPar: '',
  purpose: 'light',
  received: 'here',
  fromPar: '',
  fromWords: '',
  fromHours: '',
  startsOn: '',
  name: '',
  reason: '',
  system: '',
  percent: '',
};

async function formFor(
  service: Service,
  request: FastifyRequest,
  typed: Typed,
  refused: FormState | undefined,
  extra: object,
) {
  const today = localDay(service.now(), request.site.timeZone);
  const asked = one(typed, 'show') === 'yes' || refused !== undefined;
  const values = { ...blank, startsOn: today, ...extra, ...typed };
  const looked = asked ? await lookAt(service, request, values) : { errors: [], preview: null };
  const form: FormState = {
    typed: Object.fromEntries(Object.keys(blank).map((name) => [name, one(values, name)])),
    errors: refused?.errors ?? looked.errors,
    key: refused?.key ?? freshForm().key,
  };
  const hidden = Object.entries(form.typed).filter(([, value]) => value !== '');
  return { form, preview: looked.preview, hidden, today };
}

async function showPlaces(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  ids: string[],
  typed: Typed,
  refused?: FormState,
) {
  const lots = await readLotsWithLight(service.pool, request.site.id, ids, service.now());
  const unplaced = lots.every((lot) => lot.slotIds.length === 0);
  const slots = valuesOf(typed, 'slot').filter(isId);
  const before = await receivedLight(service.pool, ids, service.now());
  const received = before?.known ?? (unplaced ? 'unknown' : 'here');
  const context = await formFor(
    service,
    request,
    { ...typed, lots: lots.map((lot) => lot.id), slot: slots },
    refused,
    { received, ...(before?.par == null ? {} : { fromPar: String(Math.round(before.par)) }) },
  );
  const systems = await systemsInService(service.db, request.site.id);
  const data = {
    lots: lots.map((lot) => lotView(lot, service.now())),
    system: { ask: new Set(lots.map((lot) => lot.systemId)).size !== 1 || unplaced },
    systems: systems.map(({ id, name }) => ({ value: id, text: name })),
    target: slots.length === 0 ? '' : await placeOfSlots(service.db, slots),
    slots,
    received: Object.entries(RECEIVED).map(([value, text]) => ({ value, text })),
    targetHint: `At full light.${usualWords(lots)}`,
    words: Object.entries(LIGHT_WORDS).map(([value, par]) => ({ value, text: `${value}, about ${par}` })),
    purposes,
    mayPlan: isManager(request.person.role),
    ...context,
  };
  const title = lots.length === 1 ? `Acclimate ${lots[0]?.code}` : `Acclimate ${lots.length} lots`;
  return showPage(
    service,
    request,
    reply,
    'stock/acclimation-new',
    { heading: title, ...data },
    {
      title,
      area: 'stock',
      form: context.form,
    },
  );
}

/** A lot to be chosen, with its light in the words of its own page. */
function lotView({ id, code, kind, place, light, care }: LotWithLight, now: Date) {
  const { text, figure } = accustomedWords(id, light, care.adaptation_days?.high ?? null, now);
  return {
    ...{ id, code, kind, place },
    used: figure === null ? `; what it is used to is ${text}` : `, used to ${text}`,
    figures: figure === null ? [] : [figure],
    par: light.now === null ? null : Math.round(light.now.par),
  };
}

const purposes = [
  { value: 'light', text: 'Other light' },
  { value: 'recovery', text: 'Recovery: it is bleached, and goes to a dimmer place now' },
];

/** " 50 to 120 suits all of them."; empty where none is stated, or nothing suits all. */
function usualWords(lots: readonly LotWithLight[]): string {
  const lows = lots.flatMap((lot) => lot.care.par_range?.low ?? []);
  const highs = lots.flatMap((lot) => lot.care.par_range?.high ?? []);
  if (lows.length < lots.length || highs.length < lots.length) return '';
  const [low, high] = [Math.max(...lows), Math.min(...highs)];
  return low > high ? '' : ` ${low} to ${high} suits ${lots.length === 1 ? 'it' : 'all of them'}.`;
}

async function showLamps(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  lampId: string,
  typed: Typed,
  refused?: FormState,
) {
  const lamp = await readLampWithLots(service.pool, request.site.id, lampId, service.now());
  if (lamp === null) throw new Refusal('These lamps do not exist, or no longer.', { status: 404 });
  const without = valuesOf(typed, 'without').filter(isId);
  const context = await formFor(service, request, { ...typed, without, lamp: lamp.id }, refused, {});
  const data = {
    lamp: { id: lamp.id, name: lamp.name, percent: lamp.percent, tankName: lamp.tankName },
    lots: lamp.lots.map((lot) => ({
      ...lotView(lot, service.now()),
      left: without.includes(lot.id),
      busy: lot.acclimation?.name ?? '',
    })),
    without,
    mayPlan: isManager(request.person.role),
    ...context,
  };
  const title = `Turn ${lamp.name} in steps`;
  return showPage(service, request, reply, 'stock/acclimation-lamps', data, {
    title,
    area: 'racks',
    form: context.form,
  });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const today = localDay(service.now(), request.site.timeZone);
  return submit(request, reply, {
    schema: planBody(request.site.id, today),
    act: (work, { seen, ...wish }) => {
      if (seen === '') throw new Refusal('Look at the steps before they are planned.');
      return planAcclimation(work, { ...(wish as AcclimationRequest), seen });
    },
    done: ({ id }) => ({
      to: `/stock/acclimations/${id}`,
      notice: 'Planned. Its steps are due on their days.',
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}
