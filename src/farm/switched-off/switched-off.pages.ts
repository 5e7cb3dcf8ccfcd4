import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { SwitchedOff as SwitchedOffRow } from '../../generated/prisma/client.ts';
import { listWorkers } from '../../people/memberships.ts';
import type { Work } from '../../platform/change.ts';
import { takes } from '../../platform/door/takes.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { isManager } from '../../platform/web/access.ts';
import { backOf } from '../../platform/web/back.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { leftOvernight, reachesNight } from '../contacts/night-watch.ts';
import { equipmentOf } from '../equipment/equipment.ts';
import { findOpenSystem, findSystem, listOpenSystems } from '../systems/systems.ts';
import { listTanks } from '../tanks/tanks.ts';
import { listOff, namesOf, type OffNow, placeOf } from './lists.ts';
import { spanWords } from './span.words.ts';
import {
  longerSchema,
  offerSchema,
  offVoidSchema,
  runningSchema,
  switchOffSchema,
} from './switched-off.schema.ts';
import {
  acceptOff,
  endStanding,
  findSwitchedOff,
  keepOffLonger,
  offerOff,
  seeRunning,
  switchOff,
  voidOff,
} from './switched-off.ts';
import { thingOf, things } from './things.rules.ts';
import { type OffTimes, timesInForce } from './times.ts';

/** What is switched off for now: noted, counted down, handed over, and ended by somebody who sees it running. */
export function switchedOffPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/switched-off', (request, reply) => showList(service, request, reply));
  app.get('/farm/switched-off/new', (request, reply) => showNew(service, request, reply));
  app.post('/farm/switched-off', takes(switchOffSchema), (request, reply) =>
    postNew(service, request, reply),
  );
  app.get('/farm/switched-off/:id', (request, reply) => showOne(service, request, reply));
  app.post('/farm/switched-off/:id/running', takes(runningSchema), (request, reply) =>
    postRunning(service, request, reply),
  );
  app.post('/farm/switched-off/:id/longer', takes(longerSchema), (request, reply) =>
    postLonger(service, request, reply),
  );
  app.post('/farm/switched-off/:id/voiding', takes(offVoidSchema), (request, reply) =>
    postVoid(service, request, reply),
  );
  app.post('/farm/switched-off/:id/offer', takes(offerSchema), (request, reply) =>
    postOffer(service, request, reply),
  );
  app.post('/farm/switched-off/:id/accept', takes(runningSchema), (request, reply) =>
    postAccept(service, request, reply),
  );
}

const listPath = '/farm/switched-off';
const offId = (request: FastifyRequest) => pathId(request, 'id', 'What was switched off');

/** As a row: how late it is, and what may be done with it by whom. */
const rowOf = (off: OffNow, now: Date, personId: string) => ({
  ...off,
  place: placeOf(off),
  state: things[off.thing].state,
  severity: off.lateAt <= now ? 'now' : off.dueAt <= now ? 'today' : '',
  caution: things[off.thing].caution,
  mine: off.keeperId === personId,
  offeredToMe: off.offeredToId === personId,
});

async function showList(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const [off, people, systems] = await Promise.all([
    listOff(service.pool, request.site.id),
    listWorkers(service.db, request.site.id),
    listOpenSystems(service.db, request.site.id),
  ]);
  const rows = off.map((one) => rowOf(one, service.now(), request.person.id));
  const data = {
    rows,
    mine: rows.filter(({ mine }) => mine),
    others: people
      .filter(({ id }) => id !== request.person.id)
      .map(({ id, name }) => ({ value: id, text: name })),
    systems,
    isManager: isManager(request.person.role),
  };
  const form = refused ?? freshForm({});
  return showPage(service, request, reply, 'farm/switched-off', data, {
    title: 'Switched off for now',
    form,
  });
}

/** Why things are usually off, in words that a tap says. */
const reasons = ['Work on the tank', 'Feeding', 'Cleaning', 'Repair', 'Treatment', 'Test of the alarm'];

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const query = request.query as { system?: string; tank?: string; equipment?: string };
  const systemId = String(refused?.typed.systemId ?? query.system ?? '');
  if (!/^[0-9a-f-]{36}$/.test(systemId)) return reply.redirect(listPath, 303);
  const system = await findOpenSystem(service.db, systemId);
  const [devices, tanks, times] = await Promise.all([
    equipmentOf(service.pool, [system.id]),
    listTanks(service.db, system.id),
    timesInForce(service.pool),
  ]);
  const until = new Map(times.map((one) => [one.thing, one]));
  const due = (thing: OffTimes['thing']) => spanWords(until.get(thing)?.dueMin ?? things[thing].dueMin);
  const shown = query.equipment === undefined ? devices : devices.filter(({ id }) => id === query.equipment);
  const data = {
    system,
    tanks: tanks.map(({ id, name }) => ({ value: id, text: name })),
    reasons: reasons.map((reason) => ({ value: reason, text: reason })),
    devices: shown
      .filter(({ off }) => off === null)
      .map(({ id, name, kind, tankName }) => ({ id, name, tankName, due: due(thingOf[kind]) })),
    things:
      query.equipment === undefined
        ? times.map(({ thing }) => ({ code: thing, name: things[thing].name, due: due(thing) }))
        : [],
    back: backOf(request) ?? '',
  };
  const form =
    refused ??
    freshForm({
      systemId: system.id,
      tankId: query.tank,
      why: reasons[0],
      minutes: '',
      what: '',
      onReturn: '',
      watcher: '',
    });
  return showPage(service, request, reply, 'farm/switch-off', data, {
    title: `Switch off: ${system.name}`,
    form,
  });
}

/** Does it, and asks for a name where what keeps stock alive is then off at night and nobody is on call. */
async function watchedOvernight(
  work: Work,
  { why, watcher }: { why: string; watcher: string },
  { site }: FastifyRequest,
  act: (said: { why: string }) => Promise<SwitchedOffRow>,
): Promise<SwitchedOffRow> {
  const off = await act({ why: watcher === '' ? why : `${why}; who comes or looks next: ${watcher}` });
  if (things[off.thing].keepsAlive && reachesNight(work.now, off.dueAt, site.timeZone))
    await leftOvernight(work.tx, site.id, { why, watcher });
  return off;
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: switchOffSchema,
    act: (work, value) =>
      watchedOvernight(work, value, request, (said) => switchOff(work, { ...value, ...said })),
    done: ({ what, dueAt, offAt }) => ({
      to: backOf(request) ?? listPath,
      notice: `${what}: noted, due back in ${spanWords((dueAt.getTime() - offAt.getTime()) / 60_000)}. Everybody is reminded until somebody has seen it running.`,
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showOne(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const off = await findSwitchedOff(service.db, offId(request));
  const [system, names] = await Promise.all([
    findSystem(service.db, off.systemId),
    namesOf(service.db, [off.accountId, off.keeperId, off.seenRunningById]),
  ]);
  const nameOf = (id: string | null) => names.get(id ?? '') ?? '';
  const data = {
    off,
    system,
    thing: things[off.thing],
    by: nameOf(off.accountId),
    keeper: nameOf(off.keeperId),
    seenBy: nameOf(off.seenRunningById),
    open: off.seenRunningAt === null && off.voidedAt === null,
    back: backOf(request) ?? '',
    seenEnd: await seenNow(service.db, endStanding(off.id)),
  };
  const form = refused ?? freshForm({ minutes: '', why: '', seen: '', watcher: '', reason: '' });
  return showPage(service, request, reply, 'farm/switched-off-one', data, { title: off.what, form });
}

async function postRunning(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = offId(request);
  return submit(request, reply, {
    schema: runningSchema,
    act: (work, { seen }) => seeRunning(work, id, { seen }),
    done: ({ off, first }) => ({
      to: backOf(request) ?? listPath,
      notice: first
        ? `${off.what}: seen running. ${things[off.thing].caution}`.trim()
        : `${off.what} was seen running before.`,
    }),
    again: (form) => showOne(service, request, reply, form),
  });
}

async function postVoid(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = offId(request);
  return submit(request, reply, {
    schema: offVoidSchema,
    act: (work, { reason }) => voidOff(work, id, reason),
    done: ({ what }) => ({ to: listPath, notice: `${what}: taken back, it was not off.` }),
    again: (form) => showOne(service, request, reply, form),
  });
}

async function postLonger(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = offId(request);
  return submit(request, reply, {
    schema: longerSchema,
    over: endStanding(id),
    act: (work, value) =>
      watchedOvernight(work, value, request, (said) => keepOffLonger(work, id, { ...value, ...said })),
    done: ({ what }) => ({ to: listPath, notice: `${what} stays off for longer.` }),
    again: (form) => showOne(service, request, reply, form),
  });
}

async function postOffer(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = offId(request);
  return submit(request, reply, {
    schema: offerSchema,
    act: (work, { toId }) => offerOff(work, id, toId),
    done: ({ what }) => ({
      to: listPath,
      notice: `${what} is offered. You stay in charge until it is accepted.`,
    }),
    again: (form) => showList(service, request, reply, form),
  });
}

async function postAccept(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = offId(request);
  return submit(request, reply, {
    schema: runningSchema,
    act: (work) => acceptOff(work, id),
    done: ({ what }) => ({ to: listPath, notice: `You are in charge of ${what} now.` }),
    again: (form) => showList(service, request, reply, form),
  });
}
