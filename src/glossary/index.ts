import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Service } from '../platform/service.ts';
import { showPage } from '../platform/web/pages.ts';
import { glossary } from './terms.ts';

/** The word that stands open when the page is drawn: browsers differ in whether a link into a closed part opens it. */
const asked = z.object({ word: z.string().catch('') });

/** The page of words. Views lead to one of them with `{{> term}}`. */
export function glossaryArea(app: FastifyInstance, service: Service): void {
  app.get('/glossary', (request, reply) => {
    const { word } = asked.parse(request.query);
    return showPage(service, request, reply, 'glossary/glossary', { glossary, word }, { title: 'Glossary' });
  });
}
