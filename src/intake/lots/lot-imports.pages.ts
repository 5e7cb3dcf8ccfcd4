import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { takeFiles } from '../../platform/web/files.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { kindNames } from '../../stock/kinds/kinds.ts';
import type { Answers } from '../file/questions.rules.ts';
import { sendRefusedRows } from '../imports/imports.pages.ts';
import { answersSchema, importWithdrawalSchema, largestFile } from '../imports/imports.schema.ts';
import { discardImport, findImport, importContent, saveAnswers, saveUpload } from '../imports/imports.ts';
import { uploadedFile } from '../imports/upload.pages.ts';
import { loadStockContext } from './lot-context.ts';
import { readLotsAside } from './lot-file-reading.ts';
import { acceptLots, listLotImports, lotsOfImport, withdrawLots } from './lot-imports.ts';
import type { ParsedLots } from './parse-lots.ts';
import { lotsPreview, shownStates } from './preview-view.ts';

/** Stock from files: bringing one, how it would be taken, taking it and taking it back. */
export async function lotImportPages(app: FastifyInstance, service: Service): Promise<void> {
  const ofAFile = { config: { ofAFile: true } };
  app.get('/stock/imports', (request, reply) => showFiles(service, request, reply));
  await app.register(async (scope) => {
    await takeFiles(scope, largestFile);
    scope.post('/stock/imports', { bodyLimit: largestFile * 2 }, (request, reply) =>
      postFile(service, request, reply),
    );
  });
  app.get('/stock/imports/:id', (request, reply) => showFile(service, request, reply));
  app.post('/stock/imports/:id/reading', takes(answersSchema), (request, reply) =>
    postReading(service, request, reply),
  );
  app.post('/stock/imports/:id/acceptance', ofAFile, (request, reply) =>
    postAcceptance(service, request, reply),
  );
  app.post('/stock/imports/:id/dismissal', takes(empty), (request, reply) =>
    postDismissal(service, request, reply),
  );
  app.post(
    '/stock/imports/:id/withdrawal',
    takes(importWithdrawalSchema, { ofAFile: true }),
    (request, reply) => postWithdrawal(service, request, reply),
  );
  app.get('/stock/imports/:id/refused.csv', async (request, reply) =>
    sendRefusedRows(reply, await findImport(service.db, fileId(request), 'lots')),
  );
}

const fileId = (request: FastifyRequest) => pathId(request, 'id', 'This file');
const hrefOf = (id: string) => `/stock/imports/${id}`;
const uploadSchema = z.object({ pasted: z.string().default('') });
const empty = z.object({});
const filesListed = 50;
const lotsListed = 12;

async function showFiles(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const files = await listLotImports(service.db, request.site.id, filesListed);
  const rows = files.map(({ _count, ...file }) => ({
    ...file,
    href: hrefOf(file.id),
    state:
      file.acceptedAt === null
        ? 'not taken yet'
        : _count.lots === 0
          ? 'taken back'
          : plural(file.taken, 'lot taken in', 'lots taken in'),
  }));
  const form = refused ?? freshForm({ pasted: '' });
  return showPage(
    service,
    request,
    reply,
    'intake/lot-files',
    { rows },
    { title: 'Stock from a file', area: 'stock', form },
  );
}

async function postFile(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: uploadSchema,
    act: (work, { pasted }) => saveUpload(work, request.site.id, uploadedFile(request, pasted), 'lots'),
    done: ({ id }) => ({ to: hrefOf(id) }),
    again: (form) => showFiles(service, request, reply, form),
  });
}

async function previewOf(
  service: Service,
  request: FastifyRequest,
  id: string,
  answers: Answers,
): Promise<ParsedLots> {
  const [stock, content] = await Promise.all([
    loadStockContext(service.pool, request.site, service.now()),
    importContent(service.db, id),
  ]);
  return readLotsAside(stock, content, answers);
}

const asked = z.object({
  show: z.enum(shownStates).catch('taken'),
  page: z.coerce.number().int().min(0).max(10_000).catch(0),
});

async function showFile(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const file = await findImport(service.db, fileId(request), 'lots');
  const form = refused ?? freshForm({ reason: '' });
  const options = { title: file.fileName, area: 'stock' as const, form };
  if (file.acceptedAt !== null) {
    const lots = await lotsOfImport(service.db, file.id, lotsListed);
    const data = { file, ...lots, hasRefused: file.refused !== '' };
    return showPage(service, request, reply, 'intake/lots-taken', data, options);
  }
  try {
    const preview = await previewOf(service, request, file.id, file.answers);
    const kinds = await kindNames(service.db);
    const { show, page } = asked.parse(request.query);
    const data = lotsPreview({ href: hrefOf(file.id), preview, show, page, currency: request.site.currency });
    return await showPage(service, request, reply, 'intake/lots-preview', { file, kinds, ...data }, options);
  } catch (error) {
    if (!(error instanceof Refusal) || error.status === 404) throw error;
    const data = { file, message: error.message };
    return showPage(service, request, reply, 'intake/lots-unreadable', data, options);
  }
}

async function postReading(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = fileId(request);
  return submit(request, reply, {
    schema: answersSchema,
    act: (work, answers) => saveAnswers(work, id, answers, 'lots'),
    done: () => ({ to: hrefOf(id) }),
    again: (form) => showFile(service, request, reply, form),
  });
}

async function postAcceptance(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = fileId(request);
  const { acceptedAt, answers } = await findImport(service.db, id, 'lots');
  const preview = acceptedAt === null ? await previewOf(service, request, id, answers) : null;
  return submit(request, reply, {
    schema: empty,
    act: (work) => acceptLots(work, request.site, id, preview, answers),
    done: ({ taken }) => ({ to: hrefOf(id), notice: `${plural(taken, 'lot is', 'lots are')} taken in.` }),
    again: (form) => showFile(service, request, reply, form),
  });
}

async function postDismissal(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: empty,
    act: (work) => discardImport(work, fileId(request), 'lots'),
    done: () => ({ to: '/stock/imports', notice: 'File removed. Nothing from it was loaded.' }),
    again: (form) => showFile(service, request, reply, form),
  });
}

async function postWithdrawal(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = fileId(request);
  return submit(request, reply, {
    schema: importWithdrawalSchema,
    act: (work, { reason }) => withdrawLots(work, id, reason),
    done: ({ lots }) => ({
      to: hrefOf(id),
      notice: `${plural(lots, 'lot is', 'lots are')} taken back. Their slots and codes are free again.`,
    }),
    again: (form) => showFile(service, request, reply, form),
  });
}
