import { join, resolve } from 'node:path';
import { PassThrough } from 'node:stream';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { addressOf } from '../../backups/backups.ts';
import { change, evaluationQueue } from '../../platform/change.ts';
import { onConnection } from '../../platform/database/connection.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { pathOfFile, takeFileToDisk } from '../../platform/web/files.ts';
import { type FormState, freshForm, refusedForm } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { plural } from '../../platform/words/numbers.ts';
import { ownTagKeys } from '../../tags/record/signing.ts';
import { type BroughtIn, bringInFarm } from './bring-in.ts';
import { isEmpty } from './load.ts';
import { rowsOf } from './manifest.schema.ts';
import { FarmFault } from './reader.ts';
import { systemsOf } from './systems.ts';
import { writeFarm } from './writer.ts';

/** The most bytes that a page takes (own choice): more takes longer to send than a request may last. */
const largestArchive = 4 * 1024 ** 3;

/** The whole farm out as one file, and a farm into an empty installation. */
export async function farmPages(app: FastifyInstance, service: Service): Promise<void> {
  const folder = join(resolve(service.config.EVENWATER_DATA), 'farm-in-work');
  app.get('/export/farm.zip', (request, reply) => download(service, request, reply));
  app.get('/farm/bring-in', (request, reply) => show(service, request, reply, freshForm({})));
  await app.register(async (scope) => {
    await takeFileToDisk(scope, { largest: largestArchive, folder });
    scope.post('/farm/bring-in', (request, reply) => post(service, request, reply, folder));
  });
}

let underWay = 0;
const mostAtOnce = 2;

async function download(service: Service, request: FastifyRequest, reply: FastifyReply) {
  if (underWay >= mostAtOnce)
    throw new Refusal('The whole farm is being downloaded already. Wait until that is done.', {
      status: 429,
    });
  underWay += 1;
  const now = service.now();
  const out = new PassThrough();
  try {
    const tagKeys = await ownTagKeys(service.db);
    await change(service, { accountId: request.person.id }, async (work) =>
      work.record('farm.downloaded', { type: 'site', id: request.site.id }),
    );
    const written = onConnection(addressOf(service), (client) => writeFarm(client, out, { now, tagKeys }));
    written
      .catch((error: Error) => {
        service.log.warn({ err: error }, 'the download of the farm ended early');
        out.destroy(error);
      })
      .finally(() => {
        underWay -= 1;
      });
  } catch (error) {
    underWay -= 1;
    throw error;
  }
  return reply
    .type('application/zip')
    .header(
      'content-disposition',
      `attachment; filename="evenwater-farm-${now.toISOString().slice(0, 10)}.zip"`,
    )
    .header('cache-control', 'no-store')
    .send(out);
}

async function show(service: Service, request: FastifyRequest, reply: FastifyReply, form: FormState) {
  const empty = await isEmpty(service.pool);
  return showPage(
    service,
    request,
    reply,
    'exports/bring-in',
    { empty },
    {
      title: 'Bring in a farm',
      form,
    },
  );
}

async function post(service: Service, request: FastifyRequest, reply: FastifyReply, folder: string) {
  const again = (message: string) =>
    show(service, request, reply.status(422), refusedForm({}, [{ field: 'file', message }]));
  const path = pathOfFile(request);
  if (path === null) return again('Choose the file with the farm.');
  try {
    const brought = await bringInFarm(addressOf(service), path, folder, service.now());
    return await settleIn(service, request, reply, brought);
  } catch (error) {
    if (error instanceof FarmFault) return again(error.message);
    throw error;
  }
}

/** Goes on as the owner in the farm that is there now, whose rules are evaluated. */
async function settleIn(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  { manifest, owner }: BroughtIn,
) {
  const systems = await systemsOf(service.db);
  await service.db.$transaction(async (tx) => {
    for (const systemId of systems) await service.jobs.send(tx, evaluationQueue, { systemId });
  });
  if (owner !== null) request.session.set('accountId', owner.now);
  request.session.set('siteId', undefined);
  const sites = manifest.sites.map(({ name }) => name).join(', ');
  request.session.set(
    'notice',
    `${sites} is here: ${plural(rowsOf(manifest), 'record', 'records')}, each compared. Nobody but you has a password or PIN yet: set them under People.`,
  );
  return reply.redirect('/farm', 303);
}
