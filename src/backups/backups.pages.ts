import { createReadStream } from 'node:fs';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { Refusal } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import { backupFolder, backupPath, backupStateNow, type ListedBackup, listBackups } from './backups.ts';
import { kept } from './retention.rules.ts';

/** Backups: when the last proven one was, making one now, taking one away. */
export function backupPages(app: FastifyInstance, service: Service, queue: string): void {
  app.get('/backups', (request, reply) => show(service, request, reply));
  app.post('/backups', (request, reply) => post(service, request, reply, queue));
  app.get('/backups/:id/file', (request, reply) => download(service, request, reply));
}

const megabytes = (bytes: number) =>
  bytes < 950_000 ? `${Math.max(1, Math.round(bytes / 1000))} kB` : `${(bytes / 1e6).toFixed(1)} MB`;

function rowOf({ id, begunAt, provenAt, failedAt, fault, file, bytes, rows, encrypted, by }: ListedBackup) {
  const outcome = provenAt !== null ? 'proven' : failedAt !== null ? 'failed' : 'being made';
  return {
    id,
    begunAt,
    outcome,
    fault,
    file,
    size: megabytes(bytes),
    rows,
    encrypted,
    by: by ?? 'every night',
  };
}

async function show(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm(),
) {
  const elsewhere = service.config.BACKUPS === 'elsewhere';
  const [state, backups] = await Promise.all([
    elsewhere ? null : backupStateNow(service.pool, service.now()),
    listBackups(service.pool),
  ]);
  const data = {
    state,
    backups: backups.map(rowOf),
    folder: backupFolder(service.config),
    kept,
    elsewhere,
    encrypted: service.config.BACKUP_RECIPIENT !== undefined,
  };
  return showPage(service, request, reply, 'backups/backups', data, { title: 'Backups', form });
}

function post(service: Service, request: FastifyRequest, reply: FastifyReply, queue: string) {
  return submit(request, reply, {
    schema: z.object({}),
    act: async (work) => {
      work.record('backup.asked', { type: 'site', id: request.site.id });
      await service.jobs.send(work.tx, queue, { accountId: work.accountId });
    },
    done: () => ({
      to: '/backups',
      notice: 'A backup is being made. It is in the list once it is proven; that takes a minute or more.',
    }),
    again: (form) => show(service, request, reply, form),
  });
}

async function download(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const found = await backupPath(service, pathId(request, 'id', 'This backup'));
  if (found === null)
    throw new Refusal('The file of this backup is not in its folder any more. Make a new one.', {
      status: 404,
    });
  return reply
    .type('application/octet-stream')
    .header('content-disposition', `attachment; filename="${found.file}"`)
    .send(createReadStream(found.path));
}
