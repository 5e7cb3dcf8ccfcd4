import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { showPage } from '../platform/web/pages.ts';
import { glossary } from './terms.ts';

/** The page of words. Views lead to one of them with `{{> term}}`. */
export function glossaryArea(app: FastifyInstance, service: Service): void {
  app.get('/glossary', (request, reply) =>
    showPage(service, request, reply, 'glossary/glossary', { glossary }, { title: 'Glossary' }),
  );
}
