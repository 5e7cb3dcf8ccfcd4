import type { FastifyInstance } from 'fastify';
import { sweepKeys } from '../platform/door/replays.ts';
import type { Service } from '../platform/service.ts';
import { sweepSessions } from '../platform/web/sessions.ts';
import { sweepTries } from '../platform/web/wrong-tries.ts';
import { accountPages } from './accounts.pages.ts';
import type { AddSite, ListSites } from './accounts.ts';
import { keyPages } from './keys/keys.pages.ts';
import { type LinkAsked, linkQueue, sendAskedLink } from './link-letters.ts';
import { linkPages } from './links.pages.ts';
import { sweepLinks } from './links.ts';
import { ownAccountPages } from './own-account.pages.ts';
import { signInPages } from './sign-in.pages.ts';
import { tabletDoor } from './tablet-door.pages.ts';
import { tabletPages } from './tablets.pages.ts';

const sweepQueue = 'run-out-sessions';
const nightly = '23 3 * * *';

/** People: accounts, signing in and out, passwords, the first run. */
export async function peopleArea(
  app: FastifyInstance,
  service: Service,
  { addSite, listSites }: { addSite: AddSite; listSites: ListSites },
): Promise<void> {
  signInPages(app, service, addSite);
  keyPages(app, service);
  accountPages(app, service, listSites);
  ownAccountPages(app, service);
  linkPages(app, service);
  tabletPages(app, service);
  tabletDoor(app, service);
  await service.jobs.work<LinkAsked>(linkQueue, async (asked) => {
    for (const one of asked) await sendAskedLink(service, one);
  });
  await service.jobs.work(sweepQueue, async () => {
    await sweepSessions(service.db, service.now());
    await sweepTries(service.pool, service.now());
    await sweepLinks(service.db, service.now());
    await sweepKeys(service.pool, service.now());
  });
  await service.jobs.schedule(sweepQueue, nightly, 'UTC');
}
