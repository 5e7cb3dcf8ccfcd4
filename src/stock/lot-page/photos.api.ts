import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { sharedWith } from '../../people/tablets.ts';
import { change } from '../../platform/change.ts';
import { made } from '../../platform/door/answer-parts.ts';
import { asks } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import { pathId } from '../../platform/web/requests.ts';
import { makePhoto } from '../lots/photo-image.ts';
import { addPhoto } from '../lots/photos.ts';
import { takenTime } from '../lots/taken-time.ts';
import { largestPhoto } from './photos.pages.ts';

/** Photos that a device sends: the picture as the body, under a key that the device made. Sent twice, it is stored once. */
export async function photoApi(app: FastifyInstance, service: Service): Promise<void> {
  await app.register(async (scope) => {
    const whole = { parseAs: 'buffer' as const, bodyLimit: largestPhoto };
    scope.addContentTypeParser(/^image\//, whole, (_request, body, done) => done(null, body));
    scope.put('/api/photos/:id', { bodyLimit: largestPhoto, ...asks(about, photoAnswer) }, (request) =>
      putPhoto(service, request),
    );
  });
}

const photoAnswer = made.extend({ outcome: z.string() });

const about = z.object({
  lotId: z.uuid({ error: 'Name the lot by its key.' }),
  entryId: z.uuid().nullish(),
  takenAt: z.iso.datetime({ offset: true }).nullish(),
  /** Who took it, where a tablet changed hands before it was sent. */
  notedBy: z.uuid().nullish(),
  note: z.string().trim().max(500).default(''),
});

async function putPhoto(service: Service, request: FastifyRequest) {
  const id = pathId(request, 'id', 'This photo');
  const parsed = about.safeParse(request.query);
  if (!parsed.success) {
    throw new Refusal('Say of which lot the photo is.', { fields: fieldErrors(parsed.error) });
  }
  if (!Buffer.isBuffer(request.body)) throw new Refusal('Send the picture itself.', { status: 415 });
  const { lotId, entryId, takenAt, notedBy, note } = parsed.data;
  const at = takenTime(takenAt ?? null, request.headers['device-time'], service.now());
  const image = await makePhoto(request.body);
  const photo = { id, lotId, roundEntryId: entryId ?? null, takenAt: at, note, ...image };
  const isOfOther = notedBy != null && (await sharedWith(service.db, request)).has(notedBy);
  const accountId = isOfOther ? notedBy : request.person.id;
  const added = await change(service, { accountId }, (work) => addPhoto(work, photo));
  return { id, outcome: added ? 'taken' : 'there' };
}
