import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { uuidv7 } from 'uuidv7';
import { z } from 'zod';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { undoneWords } from '../../platform/undo.ts';
import { backOf } from '../../platform/web/back.ts';
import { optionalText, text } from '../../platform/web/fields.ts';
import { fileOf, takeFiles } from '../../platform/web/files.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { lotHref } from '../base/lot-href.ts';
import { findLot } from '../lots/lots.ts';
import { makePhoto } from '../lots/photo-image.ts';
import {
  addPhoto,
  findPhoto,
  photoBytes,
  photographerOf,
  voidPhoto,
  voidSharedPhoto,
} from '../lots/photos.ts';

/** The most bytes of one photo as it is sent. */
export const largestPhoto = 20 * 1024 * 1024;

/** Photos of lots: taking them in, looking at them, voiding one. */
export async function photoPages(app: FastifyInstance, service: Service): Promise<void> {
  app.get('/stock/:code/photo', (request, reply) => showNewPhoto(service, request, reply));
  app.get('/photos/:id', (request, reply) => showPhoto(service, request, reply));
  app.get('/photos/:id/image', (request, reply) => sendBytes(service, request, reply, 'image'));
  app.get('/photos/:id/small', (request, reply) => sendBytes(service, request, reply, 'small'));
  app.post('/photos/:id/voiding', (request, reply) => postVoiding(service, request, reply));
  await app.register(async (scope) => {
    await takeFiles(scope, largestPhoto);
    scope.post('/stock/:code/photo', { bodyLimit: largestPhoto * 2 }, (request, reply) =>
      postPhoto(service, request, reply),
    );
  });
}

const photoId = (request: FastifyRequest) => pathId(request, 'id', 'This photo');
const lotOf = (service: Service, request: FastifyRequest) =>
  findLot(service.db, (request.params as { code: string }).code, request.site.id);

async function showNewPhoto(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ at: '', note: '' }),
) {
  const { code, kind } = await lotOf(service, request);
  const data = { lot: { code, kind: kind.name }, back: backOf(request) };
  return showPage(service, request, reply, 'stock/photo-new', data, {
    title: `Photo of ${code}`,
    area: 'stock',
    form,
  });
}

async function postPhoto(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const lot = await lotOf(service, request);
  const sent = fileOf(request);
  return submit(request, reply, {
    schema: z.object({ at: pastMoment(request.site.timeZone, service.now()), note: optionalText(500) }),
    act: async (work, { at, note }) => {
      if (sent === null) throw new Refusal('Choose a photo.', { field: 'photo' });
      const image = await makePhoto(sent.content);
      const id = uuidv7();
      await addPhoto(work, { id, lotId: lot.id, roundEntryId: null, takenAt: at, note, ...image });
      return { id };
    },
    done: ({ id }) => ({
      to: backOf(request) ?? `${lotHref(lot.code)}#history`,
      notice: 'The photo is kept.',
      undo: `/photos/${id}/voiding`,
    }),
    again: (form) => showNewPhoto(service, request, reply, form),
  });
}

async function showPhoto(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ reason: '' }),
) {
  const photo = await findPhoto(service.db, photoId(request));
  const data = { photo, who: await photographerOf(service.db, photo) };
  return showPage(service, request, reply, 'stock/photo', data, {
    title: `Photo of ${photo.lot.code}`,
    area: 'stock',
    form,
  });
}

/** Sends a picture. It never changes, so browsers may keep it for good; `private` keeps it out of shared caches. */
async function sendBytes(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  size: 'image' | 'small',
) {
  const bytes = await photoBytes(service.db, photoId(request), size);
  return reply
    .type('image/jpeg')
    .header('cache-control', 'private, max-age=31536000, immutable')
    .send(Buffer.from(bytes));
}

async function postVoiding(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = photoId(request);
  const isOfAll = (request.query as { of?: string }).of === 'all';
  return submit(request, reply, {
    // The notice's own button asks for no reason.
    schema: z.object({
      reason: z.preprocess((typed) => typed ?? undoneWords, text('why it is void')),
    }),
    act: (work, { reason }) => (isOfAll ? voidSharedPhoto : voidPhoto)(work, id, reason),
    done: ({ code }) => ({
      to: `${lotHref(code)}#history`,
      notice: isOfAll
        ? 'The photo is void with all of these lots. It stays to be seen.'
        : 'The photo is void. It stays to be seen.',
    }),
    again: (form) => showPhoto(service, request, reply, form),
  });
}
