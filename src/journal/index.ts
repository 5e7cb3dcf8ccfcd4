import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { journalPages } from './journal.pages.ts';
import { personPages } from './persons.pages.ts';
import { removalPages } from './removals.pages.ts';
import { undoPages } from './undo.pages.ts';

/** The journal, read: the areas below write it with each change. */
export function journalArea(app: FastifyInstance, service: Service): void {
  journalPages(app, service);
  undoPages(app);
  removalPages(app, service);
  personPages(app, service);
}
