import { randomUUID } from 'node:crypto';
import Fastify, { type FastifyBaseLogger, type FastifyInstance } from 'fastify';
import { alertFigures } from './alerts/figures.ts';
import { watchFigures } from './alerts/gaps/figures.ts';
import { openAlertCounts } from './alerts/page-context.ts';
import { backupFigures } from './backups/figures.ts';
import { backupsArea } from './backups/index.ts';
import { newestDigestDay } from './digest/digests.ts';
import { letterFigures } from './digest/figures.ts';
import { digestArea } from './digest/index.ts';
import { emergenciesArea } from './emergencies/index.ts';
import { emergenciesNow } from './emergencies/page-context.ts';
import { exportsArea } from './exports/index.ts';
import { farmArea } from './farm/index.ts';
import { currentSite, currentSiteId, switchedOffNow } from './farm/page-context.ts';
import { addSite, listSites } from './farm/sites/sites.ts';
import { glossaryArea } from './glossary/index.ts';
import { intakeFigures } from './intake/figures.ts';
import { intakeArea } from './intake/index.ts';
import { journalArea } from './journal/index.ts';
import { keyScope } from './key-scopes.ts';
import { signInFigures } from './people/figures.ts';
import { peopleArea } from './people/index.ts';
import { keyHolder } from './people/keys/keys.ts';
import { hasAccounts, signedInPerson } from './people/page-context.ts';
import type { Config } from './platform/config.ts';
import { addReplica, readingService } from './platform/database/replica.ts';
import { doorRewriter } from './platform/door/addresses.ts';
import { type CollectedRoute, collectRoutes } from './platform/door/collected.ts';
import type { ReadFigures } from './platform/metrics/figures.ts';
import { addMetrics } from './platform/metrics/metrics.ts';
import type { Service } from './platform/service.ts';
import { readTls } from './platform/tls/settings.ts';
import { addAccessLog } from './platform/web/access-log.ts';
import { addAssets, addCompression } from './platform/web/assets.ts';
import { addFailures } from './platform/web/failures.ts';
import { addGuards } from './platform/web/guards.ts';
import { addHealth } from './platform/web/health.ts';
import { keptFormPages } from './platform/web/kept-forms.pages.ts';
import type { PageContextColumns } from './platform/web/page-context.ts';
import { addRequests } from './platform/web/requests.ts';
import { racksArea } from './racks/index.ts';
import { plannedLots } from './racks/move-plans/planned-lots.ts';
import { readRoutes } from './read-routes.ts';
import { roundsArea } from './rounds/index.ts';
import { routeAccess } from './route-access.ts';
import { siteThings } from './site-things.ts';
import { stockArea } from './stock/index.ts';
import { kindChoices } from './stock/kinds/kinds.ts';
import { waterOfTankChanges } from './stock/pests/own-water.ts';
import { countLotsInSystem, lotsOnRack } from './stock/places/occupants.ts';
import { tagsArea } from './tags/index.ts';
import { alteredTags } from './tags/tags/altered-tags.ts';
import { taggedLots, tagsOnLot } from './tags/tags/dependents.ts';
import { tagEvents } from './tags/tags/lot-events.ts';
import { watchArea } from './watch/index.ts';
import { lighteningAskedOn } from './watch/settings/lightening-asked.ts';
import { leftInDosers } from './water/dosers/left.ts';
import { waterArea } from './water/index.ts';
import { dayTemperatures } from './water/record/temperatures.ts';
import { startBands } from './water/targets/starting-bands.ts';

/** What every page shows around itself, each part from the area that owns it. */
const pageContext: PageContextColumns = {
  person: signedInPerson(currentSiteId),
  settled: hasAccounts,
  site: currentSite,
  counts: openAlertCounts,
  switchedOff: switchedOffNow,
  emergencies: emergenciesNow,
};

/** Each area registers its routes and jobs, and is handed what it needs of the areas above it. */
async function addAreas(
  app: FastifyInstance,
  service: Service,
  routes: readonly CollectedRoute[],
): Promise<void> {
  await peopleArea(app, service, { addSite, listSites });
  await backupsArea(app, service, { proofs: [alteredTags] });
  farmArea(app, service, {
    countLotsInSystem,
    lotsOnRack,
    leftInDosers,
    startBands,
    stockKinds: kindChoices,
    waterOfTankChanges,
  });
  await stockArea(app, service, {
    lotEvents: [tagEvents],
    dependsOnLot: tagsOnLot,
    heldAbove: [taggedLots, plannedLots],
    temperaturesOf: dayTemperatures,
    lighteningAskedOn,
  });
  racksArea(app, service);
  await digestArea(app, service);
  await tagsArea(app, service);
  await waterArea(app, service);
  await intakeArea(app, service);
  await watchArea(app, service);
  await emergenciesArea(app, service);
  await roundsArea(app, service, { newestDigestDay });
  journalArea(app, service);
  glossaryArea(app, service);
  await exportsArea(app, service, { routes, keyScope });
}

/** What each area tells of itself to those who watch the service. */
const figuresOf = ({ MQTT_URL }: Config): ReadFigures[] => [
  alertFigures,
  backupFigures,
  (pool, now) => intakeFigures(pool, now, MQTT_URL !== undefined),
  letterFigures,
  signInFigures,
  watchFigures,
];

/** Whose word on the visitor's address is taken, as the framework wants it: of one proxy only the nearest hop. */
const trustOf = (proxies: Config['TRUST_PROXY']) =>
  proxies === 1 ? (_address: string, hop: number) => hop < 1 : proxies;

/** The path of a request's target, which may be a whole address or "*" (RFC 9112, 3.2). */
const pathOf = (target: string): string =>
  target.startsWith('/') ? target : target.replace(/^(https?:\/\/[^/?#]*)?\/?/i, '/');

/** Builds the web application without listening. */
export async function buildApp(service: Service): Promise<FastifyInstance> {
  const toRoute = doorRewriter(Object.keys(routeAccess));
  const tls = readTls(service.config, service.now());
  const app: FastifyInstance = Fastify({
    ...(tls === null ? {} : { https: tls }),
    loggerInstance: service.log as FastifyBaseLogger,
    trustProxy: trustOf(service.config.TRUST_PROXY),
    genReqId: () => randomUUID(),
    rewriteUrl: (request) => toRoute(request, pathOf(request.url ?? '/')),
    bodyLimit: 2 * 1024 * 1024,
    // A photo over a weak Wi-Fi takes a minute; a sender that never ends holds a connection no longer than this.
    requestTimeout: 120_000,
    routerOptions: { ignoreTrailingSlash: true },
    logController: new Fastify.LogController({ disableRequestLogging: true }) as never,
  });
  addAccessLog(app);
  await addCompression(app);
  await addGuards(app, service);
  addRequests(app, service, { routeAccess, pageContext, siteThings, keyHolder, keyScope });
  const routes = collectRoutes(app);
  addFailures(app, service);
  await addAssets(app);
  addHealth(app, service);
  await addMetrics(app, service, figuresOf(service.config));
  keptFormPages(app, service);
  const { DATABASE_REPLICA_URL } = service.config;
  if (DATABASE_REPLICA_URL !== undefined) addReplica(app, service, DATABASE_REPLICA_URL, readRoutes);
  await addAreas(app, DATABASE_REPLICA_URL === undefined ? service : readingService(service), routes);
  return app;
}
