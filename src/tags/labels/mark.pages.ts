import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { fileOf, takeFiles } from '../../platform/web/files.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { findMark, makeMark, markSource, removeMark, setMark } from '../mark/mark.ts';
import { printLabels } from './printing.ts';
import type { LabelText } from './typesetting.rules.ts';

/** The most bytes of a mark as it is sent. */
const largestMark = 5 * 1024 * 1024;

/** The farm's own mark on labels and tag sheets. */
export async function markPages(app: FastifyInstance, service: Service): Promise<void> {
  app.get('/tags/mark', (request, reply) => showMark(service, request, reply));
  app.post('/tags/mark/removal', (request, reply) => postRemoval(request, reply));
  app.get('/tags/mark/label.pdf', (request, reply) => sendSample(service, request, reply));
  await app.register(async (scope) => {
    await takeFiles(scope, largestMark);
    scope.post('/tags/mark', { bodyLimit: largestMark * 2 }, (request, reply) =>
      postMark(service, request, reply),
    );
  });
}

async function showMark(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({}),
) {
  const mark = await findMark(service.db, request.site.id);
  const data = { mark: mark === null ? null : { ...mark, source: markSource(mark) }, site: request.site };
  return showPage(service, request, reply, 'tags/mark', data, { title: 'Own mark', area: 'tags', form });
}

async function postMark(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const sent = fileOf(request);
  return submit(request, reply, {
    schema: z.object({}),
    act: async (work) => {
      if (sent === null) throw new Refusal('Choose a picture.', { field: 'photo' });
      await setMark(work, request.site.id, await makeMark(sent.content));
    },
    done: () => ({ to: '/tags/mark', notice: 'Labels and tag sheets have the mark from now on.' }),
    again: (form) => showMark(service, request, reply, form),
  });
}

async function postRemoval(request: FastifyRequest, reply: FastifyReply) {
  await request.change((work) => removeMark(work, request.site.id));
  request.session.set('notice', 'The mark is taken off. Labels printed before keep it.');
  return reply.redirect('/tags/mark', 303);
}

/** A label of the usual size (own choice), mm, alone on its page. */
const sampleSheet = {
  ...{ pageWidthMm: 70, pageHeightMm: 37, widthMm: 70, heightMm: 37, rows: 1, columns: 1 },
  ...{ topMm: 0, leftMm: 0, gapXMm: 0, gapYMm: 0 },
};

const sampleText = (site: string): LabelText => ({
  code: 'SAMPLE',
  name: 'A coral for this sample',
  standing: '',
  lines: [
    { label: 'Light', text: 'as the record of a tag has it' },
    { label: 'Flow', text: 'likewise' },
  ],
  pictures: { light: { step: 2, of: 6 }, flow: 1 },
  foot: `${site} · a sample, no tag`,
});

/** One label with the mark, to be looked at or printed before any tag is. */
async function sendSample(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id, name } = request.site;
  const mark = (await findMark(service.db, id))?.image ?? null;
  const labels = [{ text: sampleText(name), address: 'a sample, no tag' }];
  return reply
    .type('application/pdf')
    .header('content-disposition', 'inline; filename="sample.pdf"')
    .send(await printLabels({ labels, sheet: sampleSheet, mark }));
}
