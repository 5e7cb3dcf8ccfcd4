import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { accountPages } from './accounts.pages.ts';
import { signInPages } from './sign-in.pages.ts';

/** People: accounts, signing in and out, the first run. */
export function peopleArea(app: FastifyInstance, service: Service): void {
  signInPages(app, service);
  accountPages(app, service);
}
