import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { uuidv7 } from 'uuidv7';
import { openAlerts } from '../../alerts/alerts.ts';
import { listContacts, listOnCall } from '../../farm/contacts/contacts.ts';
import { backOn } from '../../farm/switched-off/back-on.rules.ts';
import { things } from '../../farm/switched-off/things.rules.ts';
import { takes } from '../../platform/door/takes.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { levelWords } from '../../platform/units/everyday.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { type PageOptions, showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { dayMs, hourMs } from '../../science/numeric/time.ts';
import { eventGroups, findEvent } from '../events/events.rules.ts';
import type { SystemNumbers } from '../numbers/system-numbers.rules.ts';
import { systemNumbers } from '../numbers/system-numbers.ts';
import { callScreen } from './call-screen.ts';
import { endSchema, entryFormSchema, startSchema } from './emergencies.schema.ts';
import { addEntry, endEmergency, findEmergency, notYetRunning, takeStart } from './emergencies.ts';
import { emergencyLine, entriesOf, listEmergencies } from './list.ts';
import { looksToTake, type Noted, stepStates } from './progress.rules.ts';
import { stepsScreen, whereScreen } from './screen.ts';

/** Report trouble: what do you see, where, the steps in order, and the record of what was done. */
export function emergencyPages(app: FastifyInstance, service: Service): void {
  app.get('/emergencies', (request, reply) => showChoice(service, request, reply));
  app.get('/emergencies/events/:event', (request, reply) => showEvent(service, request, reply));
  app.post('/emergencies', takes(startSchema), (request, reply) => postStart(service, request, reply));
  app.get('/emergencies/:id', (request, reply) => showEmergency(service, request, reply));
  app.post('/emergencies/:id/entries', takes(entryFormSchema), (request, reply) =>
    postEntry(service, request, reply),
  );
  app.post('/emergencies/:id/end', takes(endSchema), (request, reply) => postEnd(service, request, reply));
}

/** How long what has ended is listed, days. */
const listedDays = 90;

const options = (title: string, form?: FormState): PageOptions => ({
  title,
  scripts: ['/assets/emergency.js'],
  ...(form === undefined ? {} : { form }),
});

const thingOptions = Object.entries(things).map(([value, { name }]) => ({ value, text: name }));

async function showChoice(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const since = new Date(now.getTime() - listedDays * dayMs);
  const all = await listEmergencies(service.pool, request.site.id, since, now);
  const data = {
    groups: eventGroups(),
    running: all.filter(({ endedAt }) => endedAt === null),
    ended: all.filter(({ endedAt }) => endedAt !== null),
  };
  return showPage(service, request, reply, 'emergencies/choice', data, options('Report trouble'));
}

async function showEvent(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const typed = (refused?.typed.event as string | undefined) ?? (request.params as { event: string }).event;
  const event = findEvent(typed);
  const now = service.now();
  const [systems, contacts] = await Promise.all([
    systemNumbers(service.pool, request.site, now),
    listContacts(service.db, request.site.id),
  ]);
  const { system: asked } = request.query as { system?: string };
  const where = whereScreen(event, systems, asked);
  const ticked: readonly string[] = [refused?.typed.systems ?? []].flat();
  const data = {
    event,
    where: { ...where, systems: where.systems.map((one) => ({ ...one, ticked: ticked.includes(one.id) })) },
    steps: stepsScreen(event, systems, contacts),
    things: thingOptions,
    systemOptions: systems.map(({ id, name }) => ({ value: id, text: name })),
    personId: request.person.id,
    readOn: now,
  };
  return showPage(
    service,
    request,
    reply,
    'emergencies/event',
    data,
    options(event.title, refused ?? freshForm()),
  );
}

async function postStart(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: startSchema,
    act: async (work, { event, systems }) => {
      const id = uuidv7();
      const all = await systemNumbers(service.pool, request.site, work.now);
      const systemIds = systems.includes('all') ? all.map((system) => system.id) : systems;
      const start = { event, systemIds, startedAt: work.now, startedBy: null };
      await takeStart(work, request.site.id, id, start);
      return { id };
    },
    done: ({ id }) => ({ to: `/emergencies/${id}` }),
    again: (form) => showEvent(service, request, reply, form),
  });
}

/** So many alerts of its systems stand on its page, the most urgent; the others on Watch. */
const mostAlerts = 5;

const storyWords: Record<Noted['kind'], string> = {
  done: 'Done',
  undone: 'Not done after all',
  look: 'Look again',
  looked: 'Looked',
  note: 'Note',
  off: 'Switched off',
  running: 'Seen running',
  left_off: 'Stays off',
  called: 'Called',
  taken: 'Taken',
};

/** What the story says of an entry: a turn that came by itself is no call that somebody made. */
const whatWords = ({ kind, who }: Pick<Noted, 'kind' | 'who'>): string =>
  kind === 'called' && who === null ? 'Whose turn it is' : storyWords[kind];

async function showEmergency(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const line = await emergencyLine(service.pool, request.site.id, pathId(request, 'id', 'This record'));
  if (line === undefined) throw notFound('This record');
  const event = findEvent(line.event);
  const now = service.now();
  const systemIds = line.systems.map(({ id }) => id);
  const [systems, contacts, onCall, entries, off, alerts] = await Promise.all([
    systemNumbers(service.pool, request.site, now, systemIds),
    listContacts(service.db, request.site.id),
    listOnCall(service.db, request.site.id),
    entriesOf(service.pool, line.id),
    notYetRunning(service.db, await findEmergency(service.db, line.id)),
    openAlerts(service.pool, { siteId: request.site.id }),
  ]);
  const states = stepStates(event, entries);
  const { step: wanted } = request.query as { step?: string };
  const titles = new Map(event.steps.map((step) => [step.code, step.title]));
  const looks = line.endedAt === null ? looksToTake(entries) : [];
  const due = looks[0]?.[1] ?? null;
  const own = alerts.filter(({ systemId, causeId }) => causeId === null && systemIds.includes(systemId));
  const data = {
    line,
    event,
    steps: stepsScreen(event, systems, contacts, states, wanted),
    due: due === null ? null : { at: due, iso: due.toISOString(), late: due <= now },
    looks: JSON.stringify(looks),
    off: off.map(({ id, what, system, systemId, offAt, thing }) => ({
      id,
      what,
      system: system.name,
      offAt,
      state: things[thing].state,
      backOn: backOnWords(systems, { systemId, offAt, thing }),
    })),
    calls: callScreen(
      entries,
      onCall,
      event.silenceMin,
      service.config.SMTP_URL !== undefined,
      line.startedAt,
    ),
    things: thingOptions,
    systemOptions: line.systems.map(({ id, name }) => ({ value: id, text: name })),
    story: entries.map(({ kind, step, text, ...entry }) => ({
      ...entry,
      what: whatWords({ kind, who: entry.who }),
      said: [titles.get(step), text].filter(Boolean).join(': '),
    })),
    alerts: own.slice(0, mostAlerts).map(({ id, title, systemName }) => ({ id, title, systemName })),
    moreAlerts: Math.max(0, own.length - mostAlerts),
    personId: request.person.id,
    nowIso: now.toISOString(),
    startedIso: line.startedAt.toISOString(),
  };
  const form = refused ?? freshForm();
  return showPage(service, request, reply, 'emergencies/emergency', data, options(line.title, form));
}

/** That the temperature tells of a heater or cooler that runs again; '' where the last two readings do not. */
function backOnWords(
  systems: readonly SystemNumbers[],
  { systemId, offAt, thing }: { systemId: string; offAt: Date; thing: keyof typeof things },
): string {
  const read = systems.find(({ id }) => id === systemId)?.readings.temperature;
  if (!read?.before) return '';
  const at = read.at.getTime();
  const earlier = { at: at - read.before.hours * hourMs, value: read.value - read.before.change };
  const since = [earlier, { at, value: read.value }].filter((point) => point.at >= offAt.getTime());
  if (backOn(thing, since) === null) return '';
  return `Is it back on? The temperature turned, ${levelWords('temperature', read.value)} ${read.when}. Look, and say so.`;
}

async function postEntry(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This record');
  return submit(request, reply, {
    schema: entryFormSchema,
    act: (work, value) => addEntry(work, id, { ...value, id: uuidv7(), at: work.now, notedBy: null }),
    done: () => ({ to: `/emergencies/${id}` }),
    again: (form) => showEmergency(service, request, reply, form),
  });
}

async function postEnd(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This record');
  return submit(request, reply, {
    schema: endSchema,
    act: (work, value) => endEmergency(work, id, value),
    done: () => ({ to: `/emergencies/${id}`, notice: 'Ended. The next digest tells it.' }),
    again: (form) => showEmergency(service, request, reply, form),
  });
}
