import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { pageNumber } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { type FarmContext, loadFarmContext } from '../file/farm-context.ts';
import type { ParsedFile } from '../file/parse-file.ts';
import type { Answers } from '../file/questions.rules.ts';
import { acceptedView } from './accepted.ts';
import { answersSchema, importWithdrawalSchema } from './imports.schema.ts';
import { discardImport, findImport, importContent, saveAnswers } from './imports.ts';
import { previewFile } from './preview.ts';
import { previewView, shownStates } from './preview-view.ts';
import { acceptImport, withdrawImport } from './reading-imports.ts';

/** One uploaded file: how it would be taken, accepting it, and taking it back. */
export function importPages(app: FastifyInstance, service: Service): void {
  const ofAFile = { config: { ofAFile: true } };
  app.get('/water/imports/:id', (request, reply) => showImport(service, request, reply));
  app.post('/water/imports/:id/reading', takes(answersSchema), (request, reply) =>
    postReading(service, request, reply),
  );
  app.post('/water/imports/:id/acceptance', ofAFile, (request, reply) =>
    postAcceptance(service, request, reply),
  );
  app.post('/water/imports/:id/dismissal', takes(empty), (request, reply) =>
    postDismissal(service, request, reply),
  );
  app.post(
    '/water/imports/:id/withdrawal',
    takes(importWithdrawalSchema, { ofAFile: true }),
    (request, reply) => postWithdrawal(service, request, reply),
  );
  app.get('/water/imports/:id/refused.csv', (request, reply) => getRefused(service, request, reply));
}

const importId = (request: FastifyRequest) => pathId(request, 'id', 'This file');

const asked = z.object({
  show: z.enum(shownStates).catch('taken'),
  page: pageNumber(0),
});

async function showImport(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const found = await findImport(service.db, importId(request));
  const form = refused ?? freshForm({ reason: '' });
  if (found.acceptedAt !== null) {
    const data = { file: found, ...(await acceptedView(service.db, found.id)) };
    return showPage(service, request, reply, 'intake/taken', data, {
      title: found.fileName,
      area: 'water',
      form,
    });
  }
  const options = { title: found.fileName, area: 'water' as const, form };
  try {
    const { farm, preview } = await previewOf(service, request, found.id, found.answers);
    const { show, page } = asked.parse(request.query);
    const data = previewView({ id: found.id, farm, preview, answers: found.answers, show, page });
    return await showPage(service, request, reply, 'intake/preview', { file: found, ...data }, options);
  } catch (error) {
    if (!(error instanceof Refusal) || error.status === 404) throw error;
    return showPage(
      service,
      request,
      reply,
      'intake/unreadable',
      { file: found, message: error.message },
      options,
    );
  }
}

async function previewOf(
  service: Service,
  request: FastifyRequest,
  id: string,
  answers: Answers,
): Promise<{ farm: FarmContext; preview: ParsedFile }> {
  const [farm, content] = await Promise.all([
    loadFarmContext(service.db, request.site, service.now()),
    importContent(service.db, id),
  ]);
  return { farm, preview: await previewFile(service.pool, farm, content, answers) };
}

async function postReading(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = importId(request);
  return submit(request, reply, {
    schema: answersSchema,
    act: (work, answers) => saveAnswers(work, id, answers),
    done: () => ({ to: `/water/imports/${id}` }),
    again: (form) => showImport(service, request, reply, form),
  });
}

const empty = z.object({});

async function postAcceptance(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = importId(request);
  const { acceptedAt, answers } = await findImport(service.db, id);
  const preview = acceptedAt === null ? (await previewOf(service, request, id, answers)).preview : null;
  return submit(request, reply, {
    schema: empty,
    act: async (work) => acceptImport(work, id, preview, answers),
    done: ({ taken }) => ({
      to: `/water/imports/${id}`,
      notice: `${plural(taken, 'reading is', 'readings are')} taken.`,
    }),
    again: (form) => showImport(service, request, reply, form),
  });
}

async function postDismissal(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = importId(request);
  return submit(request, reply, {
    schema: empty,
    act: (work) => discardImport(work, id),
    done: () => ({ to: '/water/imports', notice: 'File removed. Nothing from it was loaded.' }),
    again: (form) => showImport(service, request, reply, form),
  });
}

async function postWithdrawal(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = importId(request);
  return submit(request, reply, {
    schema: importWithdrawalSchema,
    act: (work, { reason }) => withdrawImport(work, id, reason),
    done: ({ voided }) => ({
      to: `/water/imports/${id}`,
      notice: `${plural(voided, 'reading', 'readings')} taken back: they stay in view, struck through, and no longer count.`,
    }),
    again: (form) => showImport(service, request, reply, form),
  });
}

async function getRefused(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return sendRefusedRows(reply, await findImport(service.db, importId(request)));
}

/** Sends the rows of a file that were not taken, as a file. */
export function sendRefusedRows(
  reply: FastifyReply,
  { fileName, refused }: { fileName: string; refused: string },
) {
  const name = `refused ${fileName.replace(/\.[^.]*$/, '')}.csv`.replace(/[^\w .-]/g, '_');
  return reply
    .type('text/csv; charset=utf-8')
    .header('content-disposition', `attachment; filename="${name}"`)
    .send(refused);
}
