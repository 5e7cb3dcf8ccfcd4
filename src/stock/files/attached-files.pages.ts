import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { text } from '../../platform/web/fields.ts';
import { fileOf, takeFiles } from '../../platform/web/files.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import {
  type Attachable,
  attachables,
  attachFile,
  type FileHome,
  fileContent,
  filesOf,
  findFile,
  findHome,
  largestFile,
  removeFile,
} from './attached-files.ts';

/** Files attached to lots, systems and equipment: adding, saving, removing. */
export async function attachedFilePages(app: FastifyInstance, service: Service): Promise<void> {
  app.get('/files/:id', (request, reply) => sendFile(service, request, reply));
  app.get('/files/:noun/:id', async (request, reply) =>
    show(service, request, reply, await homeOf(service, request)),
  );
  app.post('/files/:id/removal', takes(removalBody), (request, reply) =>
    postRemoval(service, request, reply),
  );
  await app.register(async (scope) => {
    await takeFiles(scope, largestFile);
    scope.post('/files/:noun/:id', { bodyLimit: largestFile * 2 }, (request, reply) =>
      postFile(service, request, reply),
    );
  });
}

const isAttachable = (noun: string): noun is Attachable => attachables.some((one) => one === noun);

function homeOf(service: Service, request: FastifyRequest): Promise<FileHome> {
  const { noun = '' } = request.params as { noun?: string };
  if (!isAttachable(noun)) throw notFound('This page');
  return findHome(service.db, noun, pathId(request, 'id', 'This record'));
}

const pathOf = ({ noun, id }: Pick<FileHome, 'noun' | 'id'>) => `/files/${noun}/${id}`;

const sizeWords = (bytes: number) =>
  bytes < 950_000 ? `${Math.max(1, Math.round(bytes / 1000))} kB` : `${(bytes / 1e6).toFixed(1)} MB`;

async function show(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  home: FileHome,
  form: FormState = freshForm({ what: '' }),
) {
  const files = (await filesOf(service.db, home.noun, home.id)).map((file) => ({
    ...file,
    size: sizeWords(file.bytes),
    kind: file.kind === 'application/pdf' ? 'PDF' : 'picture',
  }));
  const data = { home, files, action: pathOf(home) };
  return showPage(service, request, reply, 'stock/files', data, { title: `Files of ${home.name}`, form });
}

async function postFile(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const home = await homeOf(service, request);
  const sent = fileOf(request);
  return submit(request, reply, {
    schema: z.object({ what: text('what it is', 200) }),
    act: async (work, { what }) => {
      if (sent === null) throw new Refusal('Choose a file.', { field: 'file' });
      await attachFile(work, home, { ...sent, what });
    },
    done: () => ({ to: pathOf(home), notice: 'The file is kept.' }),
    again: (form) => show(service, request, reply, home, form),
  });
}

/** Hands a file out to be saved. No browser takes it for a page of this service, or runs anything in it. */
async function sendFile(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const file = await fileContent(service.db, pathId(request, 'id', 'This file'));
  return reply
    .type(file.kind)
    .header('content-disposition', `attachment; filename*=UTF-8''${encodeURIComponent(file.name)}`)
    .header('x-content-type-options', 'nosniff')
    .header('content-security-policy', "sandbox; default-src 'none'")
    .header('cache-control', 'private, no-store')
    .send(Buffer.from(file.content));
}

const removalBody = z.object({ reason: text('why it goes', 300) });

async function postRemoval(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This file');
  const { noun, homeId } = await findFile(service.db, id);
  const home = await findHome(service.db, noun, homeId);
  return submit(request, reply, {
    schema: removalBody,
    act: (work, { reason }) => removeFile(work, id, reason),
    done: () => ({
      to: pathOf(home),
      notice: 'The file is removed. Its name and the reason stay in the list.',
    }),
    again: (form) =>
      show(service, request, reply, home, { ...form, typed: { ...form.typed, what: '', of: id } }),
  });
}
