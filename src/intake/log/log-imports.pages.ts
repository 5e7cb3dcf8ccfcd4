import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { choice, pageNumber } from '../../platform/web/fields.ts';
import { takeFiles } from '../../platform/web/files.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { listQuantities } from '../../water/quantities/quantities.ts';
import type { Answers } from '../file/questions.rules.ts';
import { sendRefusedRows } from '../imports/imports.pages.ts';
import { answersSchema, importWithdrawalSchema, largestFile } from '../imports/imports.schema.ts';
import { discardImport, importContent, saveAnswers, saveUpload } from '../imports/imports.ts';
import { uploadedFile } from '../imports/upload.pages.ts';
import { isLogKind, type LogKind, logKinds, logKindWords } from './kinds.rules.ts';
import { loadLogContext } from './log-context.ts';
import { readLogAside } from './log-file-reading.ts';
import {
  acceptLog,
  countTaken,
  findLogImport,
  listLogImports,
  standingEntries,
  withdrawLog,
} from './log-imports.ts';
import { logPreview, shownStates } from './preview-view.ts';

/** Doses, water changes, feedings and services from files: bringing one, how it would be taken, taking it and taking it back. */
export async function logImportPages(app: FastifyInstance, service: Service): Promise<void> {
  const ofAFile = { config: { ofAFile: true } };
  app.get('/water/log-files', (request, reply) => showFiles(service, request, reply));
  await app.register(async (scope) => {
    await takeFiles(scope, largestFile);
    scope.post('/water/log-files', { bodyLimit: largestFile * 2 }, (request, reply) =>
      postFile(service, request, reply),
    );
  });
  app.get('/water/log-files/:id', (request, reply) => showFile(service, request, reply));
  app.post('/water/log-files/:id/reading', takes(answersSchema), (request, reply) =>
    postReading(service, request, reply),
  );
  app.post('/water/log-files/:id/acceptance', ofAFile, (request, reply) =>
    postAcceptance(service, request, reply),
  );
  app.post('/water/log-files/:id/dismissal', takes(empty), (request, reply) =>
    postDismissal(service, request, reply),
  );
  app.post(
    '/water/log-files/:id/withdrawal',
    takes(importWithdrawalSchema, { ofAFile: true }),
    (request, reply) => postWithdrawal(service, request, reply),
  );
  app.get('/water/log-files/:id/refused.csv', async (request, reply) =>
    sendRefusedRows(reply, await findLogImport(service.db, fileId(request))),
  );
}

const fileId = (request: FastifyRequest) => pathId(request, 'id', 'This file');
const hrefOf = (id: string) => `/water/log-files/${id}`;
const uploadSchema = z.object({
  kind: choice(logKinds, 'Choose what the rows are.'),
  pasted: z.string().default(''),
});
const empty = z.object({});
const filesListed = 50;

const kindOptions = logKinds.map((value) => ({
  value,
  text: logKindWords[value].name,
  hint: `${logKindWords[value].columns}.`,
}));

async function showFiles(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const files = await listLogImports(service.db, request.site.id, filesListed);
  const rows = files.map((file) => ({ ...file, href: hrefOf(file.id), ...stateOf(file) }));
  const { kind = '' } = request.query as { kind?: string };
  const form = refused ?? freshForm({ pasted: '', kind: isLogKind(kind) ? kind : '' });
  const data = { rows, kinds: kindOptions };
  return showPage(service, request, reply, 'intake/log-files', data, {
    title: 'Doses and more from a file',
    area: 'water',
    form,
  });
}

function stateOf({ kind, acceptedAt, taken, standing }: Awaited<ReturnType<typeof listLogImports>>[number]) {
  const { name, one, many } = logKindWords[kind];
  const words = plural(taken, `${one} taken`, `${many} taken`);
  const stands = standing === taken ? words : `${words}, ${standing} still count`;
  return { name, state: acceptedAt === null ? 'not taken yet' : standing === 0 ? 'taken back' : stands };
}

async function postFile(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: uploadSchema,
    act: (work, { pasted, kind }) => saveUpload(work, request.site.id, uploadedFile(request, pasted), kind),
    done: ({ id }) => ({ to: hrefOf(id) }),
    again: (form) => showFiles(service, request, reply, form),
  });
}

async function previewOf(
  service: Service,
  request: FastifyRequest,
  { id, kind }: { id: string; kind: LogKind },
  answers: Answers,
) {
  const filesTaken = await countTaken(service.db, request.site.id, kind);
  const quantities = await listQuantities(service.db);
  const [farm, content] = await Promise.all([
    loadLogContext(service.pool, request.site, { kind, quantities, now: service.now() }),
    importContent(service.db, id),
  ]);
  return { farm, filesTaken, preview: await readLogAside(farm, content, answers) };
}

const asked = z.object({ show: z.enum(shownStates).catch('taken'), page: pageNumber(0) });

async function showFile(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const file = await findLogImport(service.db, fileId(request));
  const form = refused ?? freshForm({ reason: '' });
  const options = { title: file.fileName, area: 'water' as const, form };
  const words = logKindWords[file.kind];
  if (file.acceptedAt !== null) {
    const standing = await standingEntries(service.db, file.id);
    const data = { file, words, standing, hasRefused: file.refused !== '', isUpkeep: file.kind === 'upkeep' };
    return showPage(service, request, reply, 'intake/log-taken', data, options);
  }
  try {
    const { farm, preview } = await previewOf(service, request, file, file.answers);
    const { show, page } = asked.parse(request.query);
    const { noon = '' } = file.answers;
    const asking = { href: hrefOf(file.id), kind: file.kind, systems: farm.systems, noon };
    const data = { file, words, ...logPreview({ ...asking, preview, show, page }) };
    return await showPage(service, request, reply, 'intake/log-preview', data, options);
  } catch (error) {
    if (!(error instanceof Refusal) || error.status === 404) throw error;
    const data = { file, message: error.message };
    return showPage(service, request, reply, 'intake/log-unreadable', data, options);
  }
}

async function postReading(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = fileId(request);
  const { kind } = await findLogImport(service.db, id);
  return submit(request, reply, {
    schema: answersSchema,
    act: (work, answers) => saveAnswers(work, id, answers, kind),
    done: () => ({ to: hrefOf(id) }),
    again: (form) => showFile(service, request, reply, form),
  });
}

async function postAcceptance(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const file = await findLogImport(service.db, fileId(request));
  const { one, many } = logKindWords[file.kind];
  const read = file.acceptedAt === null ? await previewOf(service, request, file, file.answers) : null;
  return submit(request, reply, {
    schema: empty,
    act: (work) => acceptLog(work, { ...file, siteId: request.site.id }, read, file.answers),
    done: ({ taken }) => ({
      to: hrefOf(file.id),
      notice: `${plural(taken, `${one} is`, `${many} are`)} taken.`,
    }),
    again: (form) => showFile(service, request, reply, form),
  });
}

async function postDismissal(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id, kind } = await findLogImport(service.db, fileId(request));
  return submit(request, reply, {
    schema: empty,
    act: (work) => discardImport(work, id, kind),
    done: () => ({ to: '/water/log-files', notice: 'File removed. Nothing from it was loaded.' }),
    again: (form) => showFile(service, request, reply, form),
  });
}

async function postWithdrawal(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id, kind } = await findLogImport(service.db, fileId(request));
  const { one, many } = logKindWords[kind];
  return submit(request, reply, {
    schema: importWithdrawalSchema,
    act: (work, { reason }) => withdrawLog(work, id, reason),
    done: ({ entries }) => ({
      to: hrefOf(id),
      notice: `${plural(entries, one, many)} taken back, and ${entries === 1 ? 'counts' : 'count'} no more.`,
    }),
    again: (form) => showFile(service, request, reply, form),
  });
}
