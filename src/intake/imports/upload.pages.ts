import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { fileOf, takeFiles } from '../../platform/web/files.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { plural } from '../../platform/words/numbers.ts';
import { largestFile } from './imports.schema.ts';
import { listImports, saveUpload, type UploadedFile } from './imports.ts';

/** Bringing a file: chosen, or pasted as text. */
export async function uploadPages(app: FastifyInstance, service: Service): Promise<void> {
  app.get('/water/imports', (request, reply) => showImports(service, request, reply));
  // Only these routes take files.
  await app.register(async (scope) => {
    await takeFiles(scope, largestFile);
    scope.post('/water/imports', { bodyLimit: largestFile * 2 }, (request, reply) =>
      postImport(service, request, reply),
    );
  });
}

const uploadSchema = z.object({ pasted: z.string().default('') });

async function postImport(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: uploadSchema,
    act: (work, { pasted }) => saveUpload(work, request.site.id, uploadedFile(request, pasted)),
    done: ({ id }) => ({ to: `/water/imports/${id}` }),
    again: (form) => showImports(service, request, reply, form),
  });
}

/** The file that came with the form, else what was pasted. */
export function uploadedFile(request: FastifyRequest, pasted: string): UploadedFile {
  const file = fileOf(request);
  if (file !== null) return file;
  const content = pasted.trim() === '' ? new Uint8Array() : new TextEncoder().encode(pasted);
  return { fileName: 'pasted text', content };
}

const filesListed = 50;

async function showImports(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const rows = (await listImports(service.db, request.site.id, filesListed)).map(({ _count, ...file }) => ({
    ...file,
    state: stateWords(file.acceptedAt, file.taken, _count.readings),
  }));
  const form = refused ?? freshForm({ pasted: '' });
  return showPage(
    service,
    request,
    reply,
    'intake/imports',
    { rows },
    { title: 'Readings from files', area: 'water', form },
  );
}

function stateWords(acceptedAt: Date | null, taken: number, standing: number): string {
  if (acceptedAt === null) return 'not taken yet';
  if (standing === 0) return 'taken back';
  const words = plural(taken, 'reading taken', 'readings taken');
  return standing === taken ? words : `${words}, ${standing} still count`;
}
