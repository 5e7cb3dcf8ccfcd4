import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { change } from '../../platform/change.ts';
import { isDatabaseAway } from '../../platform/database/away.ts';
import { entryOutcomes, made } from '../../platform/door/answer-parts.ts';
import { answers, takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { pageData } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { events } from '../events/events.rules.ts';
import { emergencySchema, entrySchema } from './emergencies.schema.ts';
import { isStarted, takeEntry, takeStart } from './emergencies.ts';

/** What tablets send of an emergency, and what they keep for when the network is away. */
export function emergencyApi(app: FastifyInstance, service: Service): void {
  app.get('/api/emergencies', answers(pagesAnswer), (request, reply) => getPages(service, request, reply));
  app.post(
    '/api/emergencies/:id',
    takes(emergencySchema, { answers: made.extend({ entries: entryOutcomes }) }),
    (request, reply) => postEmergency(service, request, reply),
  );
}

const pagesAnswer = z.object({ csrf: z.string(), pages: z.array(z.string()) });

/** The pages a tablet keeps, and the token with which it sends. */
async function getPages(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { csrf } = pageData(service, request, reply, { title: 'Report trouble' });
  reply.header('cache-control', 'no-store');
  return { csrf, pages: ['/emergencies', ...events.map(({ code }) => `/emergencies/events/${code}`)] };
}

/**
 * Takes the start, then each entry in a change of its own: one that is refused, or at which the service fails, does not
 * stop the others. 200 where all is there now; 422 where some is not, with what became of each.
 */
async function postEmergency(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This record');
  const { entries: sent, ...start } = checked(emergencySchema, request.body);
  const put = byServiceClock(request, service.now());
  const startedAt = put(start.startedAt);
  const by = { accountId: request.person.id };
  if (!(await isStarted(service.db, request.site.id, id)))
    await change(service, by, (work) => takeStart(work, request.site.id, id, { ...start, startedAt }));
  const entries: EntryAnswer[] = [];
  for (const one of sent) entries.push(await takeOne(service, by, id, one, put));
  const refused = entries.find(({ outcome }) => outcome === 'refused');
  if (refused === undefined) return { id, entries };
  return reply.status(422).send({ id, entries, detail: refused.why });
}

/** What became of one entry: taken now, there already, or not taken and why. The tablet keeps what was not taken. */
interface EntryAnswer {
  id: string;
  outcome: 'taken' | 'there' | 'refused';
  why?: string;
}

async function takeOne(
  service: Service,
  by: { accountId: string },
  emergencyId: string,
  sent: unknown,
  put: (at: Date) => Date,
): Promise<EntryAnswer> {
  const id = String((sent as { id?: unknown } | null)?.id ?? '');
  try {
    const entry = checked(entrySchema, sent);
    const placed = { ...entry, at: put(entry.at) };
    const isNew = await change(service, by, (work) => takeEntry(work, emergencyId, placed));
    return { id, outcome: isNew ? 'taken' : 'there' };
  } catch (error) {
    if (isDatabaseAway(error)) throw error;
    if (error instanceof Refusal) return { id, outcome: 'refused', why: whyNot(error) };
    service.log.error({ err: error, entry: id }, 'an entry of an emergency failed');
    return { id, outcome: 'refused', why: 'The service failed at this note. Enter it again.' };
  }
}

/** What was wrong, field by field where it was said so. */
const whyNot = ({ message, fields }: Refusal): string =>
  fields.length === 0 ? message : fields.map((one) => one.message).join(' ');

/** A time by the service's clock, where the device says what its own showed (header `Device-Time`). */
function byServiceClock(request: FastifyRequest, now: Date): (at: Date) => Date {
  const said = z.iso.datetime({ offset: true }).safeParse(request.headers['device-time']);
  const ahead = said.success ? Date.parse(said.data) - now.getTime() : 0;
  return (at) => new Date(at.getTime() - ahead);
}
