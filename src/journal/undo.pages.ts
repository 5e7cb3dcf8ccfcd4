import type { FastifyInstance } from 'fastify';
import { Refusal } from '../platform/refusal.ts';
import { undoChange } from '../platform/undo.ts';
import { pageBefore } from '../platform/web/kept-forms.ts';
import { pathId } from '../platform/web/requests.ts';

/** Undoing the last change from the notice after saving. */
export function undoPages(app: FastifyInstance): void {
  app.post('/undo/:id', async (request, reply) => {
    const id = pathId(request, 'id', 'This change');
    const before = pageBefore(request) ?? '/';
    const said = await request
      .change((work) => undoChange(work, id))
      .then(({ gone }) => ({ notice: 'Undone. It is as it was before.', gone }))
      .catch((error: unknown) => {
        if (!(error instanceof Refusal)) throw error;
        return { notice: error.message, gone: [] };
      });
    request.session.set('undo', undefined);
    request.session.set('notice', said.notice);
    return reply.redirect(said.gone.some((one) => before.includes(one)) ? '/' : before, 303);
  });
}
