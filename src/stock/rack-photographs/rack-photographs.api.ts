import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { findRack } from '../../farm/racks/racks.ts';
import { sharedWith } from '../../people/tablets.ts';
import { change } from '../../platform/change.ts';
import { id } from '../../platform/door/answer-parts.ts';
import { asks } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import { pathId } from '../../platform/web/requests.ts';
import { takenTime } from '../lots/taken-time.ts';
import { addRackPhotograph, rackOfPhotograph } from './photographs.ts';
import { LARGEST_PHOTOGRAPH } from './reading.ts';
import { readSent, type SentPhotograph } from './taking.ts';

/** Photographs of racks that a tablet sends: the picture as the body, under a key that the tablet made. Sent twice, it is read once. */
export async function rackPhotographApi(app: FastifyInstance, service: Service): Promise<void> {
  const inbox = new Inbox(service);
  await app.register(async (scope) => {
    const whole = { parseAs: 'buffer' as const, bodyLimit: LARGEST_PHOTOGRAPH };
    scope.addContentTypeParser(/^image\//, whole, (_request, body, done) => done(null, body));
    scope.put(
      '/api/rack-photographs/:id',
      { bodyLimit: LARGEST_PHOTOGRAPH, ...asks(about, photographAnswer) },
      (request) => putPhotograph(service, inbox, request),
    );
  });
}

const about = z.object({
  rackId: z.uuid({ error: 'Name the rack by its key.' }),
  takenAt: z.iso.datetime({ offset: true }).nullish(),
  /** Who took it, where a tablet changed hands before it was sent. */
  notedBy: z.uuid().nullish(),
  /** The focal length as of a camera with a picture 36 mm wide, mm. */
  focal35: z.coerce.number().positive().max(2000).nullish(),
});

/** `being read`: ask again with the same. */
const photographAnswer = z.object({ id, outcome: z.enum(['taken', 'there', 'being read']) });
type Answer = z.infer<typeof photographAnswer>;

async function putPhotograph(service: Service, inbox: Inbox, request: FastifyRequest): Promise<Answer> {
  const id = pathId(request, 'id', 'This photograph');
  const parsed = about.safeParse(request.query);
  if (!parsed.success) {
    throw new Refusal('Say of which rack the photograph is.', { fields: fieldErrors(parsed.error) });
  }
  const { rackId, takenAt, notedBy, focal35 } = parsed.data;
  const there = await rackOfPhotograph(service.db, id);
  if (there !== null && there !== rackId)
    throw new Refusal('This key was used for a photograph of another rack. Take it again.', { status: 409 });
  if (there !== null) return { id, outcome: 'there' };
  if (!Buffer.isBuffer(request.body)) throw new Refusal('Send the picture itself.', { status: 415 });
  const isOfOther = notedBy != null && (await sharedWith(service.db, request)).has(notedBy);
  const sent = {
    file: new Uint8Array(request.body),
    rack: await findRack(service.db, rackId),
    siteId: request.site.id,
    accountId: isOfOther ? notedBy : request.person.id,
    takenAt: takenTime(takenAt ?? null, request.headers['device-time'], service.now()),
    focal35: focal35 ?? null,
  };
  return { id, outcome: await inbox.take(id, sent) };
}

/** How long an answer is held back for a photograph to be read, ms; how long a refusal is kept for who asks again; how many wait at most (own choices). */
const PATIENCE = 8_000;
const REMEMBERED = 600_000;
const MOST_WAITING = 60;

/**
 * Photographs that are being read, one after the other. A tablet that asks again joins the one that is on its way. What is
 * in here is on a tablet too, until it is read: a service that stops loses nothing.
 */
class Inbox {
  readonly #service: Service;
  readonly #underWay = new Map<string, Promise<'taken'>>();

  constructor(service: Service) {
    this.#service = service;
  }

  /** @throws Refusal why it is not read; 503 where too many wait */
  async take(id: string, sent: SentPhotograph): Promise<'taken' | 'being read'> {
    const read = this.#underWay.get(id) ?? this.#begin(id, sent);
    let late: ReturnType<typeof setTimeout> | undefined;
    const waited = new Promise<'being read'>((resolve) => {
      late = setTimeout(() => resolve('being read'), PATIENCE);
    });
    return Promise.race([read, waited]).finally(() => clearTimeout(late));
  }

  #begin(id: string, sent: SentPhotograph): Promise<'taken'> {
    if (this.#underWay.size >= MOST_WAITING)
      throw new Refusal('Too many photographs wait to be read. Send it again in a minute.', { status: 503 });
    const read = this.#read(id, sent);
    this.#underWay.set(id, read);
    read.then(
      () => this.#underWay.delete(id),
      // Whoever asks again is told the same; it is not read once more.
      () => setTimeout(() => this.#underWay.delete(id), REMEMBERED).unref(),
    );
    return read;
  }

  async #read(id: string, sent: SentPhotograph): Promise<'taken'> {
    const photograph = await readSent(this.#service, sent);
    await change(this.#service, { accountId: sent.accountId }, (work) =>
      addRackPhotograph(work, { ...photograph, id }),
    );
    return 'taken';
  }
}
