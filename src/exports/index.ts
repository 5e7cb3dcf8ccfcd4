import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { type DoorSources, doorPages } from './doors/doors.pages.ts';
import { farmPages } from './farm/farm.pages.ts';
import { listApi } from './lists/lists.api.ts';
import { listPages } from './lists/lists.pages.ts';

/** Everything out: each list as CSV, the whole farm as one archive; and such a farm into an empty installation. */
export async function exportsArea(app: FastifyInstance, service: Service, doors: DoorSources): Promise<void> {
  listPages(app, service);
  listApi(app, service);
  await farmPages(app, service);
  doorPages(app, service, doors);
}
