import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { findRack } from '../../farm/racks/racks.ts';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { undoneWords } from '../../platform/undo.ts';
import { text, tick, whole } from '../../platform/web/fields.ts';
import { type SentFile, sentFiles, takeFiles } from '../../platform/web/files.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { whenWords } from '../../platform/words/times.ts';
import { lastTries, lastWords } from './last-tries.ts';
import { outlinedRack } from './outlines.ts';
import {
  addRackPhotograph,
  chooseKeeping,
  findRackPhotograph,
  keepingOf,
  lotsInPhotograph,
  type NewRackPhotograph,
  photographsOfRack,
  rackPictureBytes,
  roomTaken,
  sameFile,
  takeBackPhotograph,
} from './photographs.ts';
import { cameraNotesOf, LARGEST_PHOTOGRAPH } from './reading.ts';
import { leftOutWords } from './reading.words.ts';
import { type PhotographTime, readSent, sha256Of, timeOfPhotograph } from './taking.ts';

/** How many come at once (own choice). */
const MOST = 6;
/** So many of a rack's photographs are listed (own choice). */
const LISTED = 60;

/** Photographs of racks: taking them in, looking at one, taking one back, how much is kept. */
export async function rackPhotographPages(app: FastifyInstance, service: Service): Promise<void> {
  app.get('/racks/:id/photographs', (request, reply) => showRackPhotographs(service, request, reply));
  app.get('/rack-photographs/:id', (request, reply) => showPhotograph(service, request, reply));
  app.get('/rack-photographs/:id/straight', (request, reply) =>
    sendPicture(service, request, reply, 'straight'),
  );
  app.get('/rack-photographs/:id/original', (request, reply) =>
    sendPicture(service, request, reply, 'original'),
  );
  app.post('/rack-photographs/:id/taking-back', takes(takingBackBody), (request, reply) =>
    postTakingBack(service, request, reply),
  );
  app.post('/racks/:id/photographs/keeping', takes(keepingBody), (request, reply) =>
    postKeeping(service, request, reply),
  );
  await app.register(async (scope) => {
    await takeFiles(scope, LARGEST_PHOTOGRAPH, { files: MOST, fields: 10 });
    scope.post('/racks/:id/photographs', { bodyLimit: LARGEST_PHOTOGRAPH * (MOST + 1) }, (request, reply) =>
      postPhotographs(service, request, reply),
    );
  });
}

const rackOf = (service: Service, request: FastifyRequest) =>
  findRack(service.db, pathId(request, 'id', 'This rack'));
const photographId = (request: FastifyRequest) => pathId(request, 'id', 'This photograph');
const megabytes = (bytes: number) => Math.round(bytes / 1e6);

async function showRackPhotographs(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ at: '' }),
) {
  const rack = await rackOf(service, request);
  const [photographs, tries, room, keeping] = await Promise.all([
    photographsOfRack(service.pool, rack.id, LISTED),
    lastTries(service.pool, [rack.id]),
    roomTaken(service.pool, request.site.id),
    keepingOf(service.db, request.site.id),
  ]);
  const { mostMb, keepOriginals } = form.typed;
  const refused = mostMb === undefined ? null : { mostMb, keepOriginals };
  const data = {
    ...{ rack, photographs, keeping, most: MOST, refused, chosen: refused ?? keeping },
    last: lastWords(tries.get(rack.id)),
    taken: { straight: megabytes(room.straight), original: megabytes(room.original) },
  };
  return showPage(service, request, reply, 'stock/rack-photographs', data, {
    title: `Photographs of ${rack.name}`,
    area: 'racks',
    form,
    scripts: ['/assets/file-dates.js'],
  });
}

const photographSchema = (timeZone: string, now: Date) => z.object({ at: pastMoment(timeZone, now) });

/** A file that was read, or why it was not. */
type Tried =
  | { photograph: NewRackPhotograph; timeBy: PhotographTime['by'] | 'person' }
  | { file: string; refused: string }
  | { there: string };

async function postPhotographs(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const rack = await rackOf(service, request);
  const now = service.now();
  const schema = photographSchema(request.site.timeZone, now);
  const tried = await readAll(service, request, rack, schema.safeParse(request.body ?? {}).data?.at ?? now);
  const refused = tried.flatMap((one) => ('refused' in one ? [`${one.file}: ${one.refused}`] : []));
  return submit(request, reply, {
    schema,
    act: async (work) => {
      if (tried.length === 0) throw new Refusal('Choose a photograph.', { field: 'photo' });
      const kept: string[] = [];
      for (const one of tried) {
        if ('there' in one) kept.push(one.there);
        if ('photograph' in one) kept.push(await addRackPhotograph(work, one.photograph));
      }
      const [first] = kept;
      if (first === undefined) throw new Refusal(refused.join(' '), { field: 'photo' });
      if (tried.every((one) => !('photograph' in one)))
        work.record('rack_photograph.sent_again', { type: 'rack', id: rack.id }, { photograph: first });
      return { id: first, kept: kept.length };
    },
    done: ({ id, kept }) => ({
      to: kept === 1 && refused.length === 0 ? `/rack-photographs/${id}` : `/racks/${rack.id}/photographs`,
      notice: [
        `${plural(kept, 'photograph is', 'photographs are')} kept.`,
        guessedWords(tried, request.site.timeZone, now),
        ...refused.map((words) => `Not read: ${words}`),
      ]
        .filter((words) => words !== '')
        .join(' '),
      ...(kept === 1 && tried.some((one) => 'photograph' in one)
        ? { undo: `/rack-photographs/${id}/taking-back` }
        : {}),
    }),
    again: (form) => showRackPhotographs(service, request, reply, form),
  });
}

/** Which times are only guessed by the files' own dates, and what to do about it. */
function guessedWords(tried: readonly Tried[], timeZone: string, now: Date): string {
  const times = tried.flatMap((one) =>
    'photograph' in one && one.timeBy === 'file' ? [whenWords(one.photograph.takenAt, timeZone, now)] : [],
  );
  if (times.length === 0) return '';
  return `Its camera does not say when: ${times.join(', ')} is the date of the file, a guess. Take it back where that is wrong, and enter the time.`;
}

/** Reads the files that came, one after the other, before anything is changed. */
async function readAll(
  service: Service,
  request: FastifyRequest,
  rack: { id: string; rows: number; columns: number },
  typedAt: Date,
): Promise<Tried[]> {
  const isTyped = String((request.body as { at?: unknown } | null)?.at ?? '').trim() !== '';
  const fileDates = fileDatesOf(request);
  const tried: Tried[] = [];
  for (const [i, file] of sentFiles(request).entries()) {
    const asked = { rack, at: isTyped ? typedAt : null, fileDate: fileDates[i] ?? null };
    try {
      tried.push(await readOne(service, request, file, asked));
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      tried.push({ file: file.fileName, refused: error.message });
    }
  }
  return tried;
}

/** When each file was last written, as the browser knows it; none where its script did not run. */
function fileDatesOf(request: FastifyRequest): (Date | null)[] {
  const sent = String((request.body as { fileDates?: unknown } | null)?.fileDates ?? '');
  return sent.split(' ').map((ms) => (/^\d{1,15}$/.test(ms) ? new Date(Number(ms)) : null));
}

async function readOne(
  service: Service,
  request: FastifyRequest,
  { content }: SentFile,
  asked: { rack: { id: string; rows: number; columns: number }; at: Date | null; fileDate: Date | null },
): Promise<Tried> {
  const { rack } = asked;
  const same = await sameFile(service.db, rack.id, sha256Of(content));
  if (same !== null) return { there: same.id };
  const notes = await cameraNotesOf(content);
  const time =
    asked.at === null
      ? timeOfPhotograph(notes, asked.fileDate, request.site.timeZone, service.now())
      : { at: asked.at, by: 'person' as const };
  const takenAt = time.at;
  const sent = { rack, siteId: request.site.id, accountId: request.person.id, takenAt };
  const photograph = await readSent(service, { ...sent, file: content, focal35: notes.focal35 });
  return { photograph, timeBy: time.by };
}

async function showPhotograph(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ reason: '' }),
) {
  const photograph = await findRackPhotograph(service.db, photographId(request));
  const [lots, listed] = await Promise.all([
    lotsInPhotograph(service.pool, photograph.id),
    photographsOfRack(service.pool, photograph.rackId, LISTED),
  ]);
  const outlined = outlinedRack(photograph, lots);
  const data = {
    ...{ photograph, outlined, measured: outlined.lots },
    pictures: listed.find(({ id }) => id === photograph.id) ?? { hasStraight: false, hasOriginal: false },
    leftOut: lots
      .filter(({ leftOut }) => leftOut !== null)
      .map((lot) => ({ ...lot, why: leftOutWords[lot.leftOut as keyof typeof leftOutWords] ?? lot.leftOut })),
  };
  return showPage(service, request, reply, 'stock/rack-photograph', data, {
    title: `Photograph of ${photograph.rack.name}`,
    area: 'racks',
    form,
  });
}

/** A picture never changes; once it has gone it is not asked for. */
async function sendPicture(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  which: 'straight' | 'original',
) {
  const bytes = await rackPictureBytes(service.db, photographId(request), which);
  return reply
    .type('image/jpeg')
    .header('cache-control', 'private, max-age=31536000, immutable')
    .send(Buffer.from(bytes));
}

const takingBackBody = z.object({
  // The notice's own button asks for no reason.
  reason: z.preprocess((typed) => typed ?? undoneWords, text('why it is taken back', 300)),
});

async function postTakingBack(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = photographId(request);
  return submit(request, reply, {
    schema: takingBackBody,
    act: (work, { reason }) => takeBackPhotograph(work, id, reason),
    done: ({ rackId }) => ({
      to: `/racks/${rackId}/photographs`,
      notice: 'The photograph is taken back, with its pictures of lots.',
    }),
    again: (form) => showPhotograph(service, request, reply, form),
  });
}

const keepingBody = z.object({
  keepOriginals: tick(),
  mostMb: whole({ what: 'how many MB', low: 50, high: 1_000_000 }),
});

async function postKeeping(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const rack = await rackOf(service, request);
  return submit(request, reply, {
    schema: keepingBody,
    act: (work, chosen) => chooseKeeping(work, request.site.id, chosen),
    done: () => ({ to: `/racks/${rack.id}/photographs`, notice: 'What is kept is changed.' }),
    again: (form) => showRackPhotographs(service, request, reply, form),
  });
}
