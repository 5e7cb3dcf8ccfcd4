import Fastify, { type FastifyBaseLogger, type FastifyInstance } from 'fastify';
import { digestArea } from './digest/index.ts';
import { farmArea } from './farm/index.ts';
import { intakeArea } from './intake/index.ts';
import { peopleArea } from './people/index.ts';
import type { Service } from './platform/service.ts';
import { addAssets } from './platform/web/assets.ts';
import { addFailures } from './platform/web/failures.ts';
import { addGuards } from './platform/web/guards.ts';
import { addHealth } from './platform/web/health.ts';
import { addRequests } from './platform/web/requests.ts';
import { racksArea } from './racks/index.ts';
import { roundsArea } from './rounds/index.ts';
import { stockArea } from './stock/index.ts';
import { countLotsInSystem, lotsOnRack } from './stock/places/occupants.ts';
import { tagsArea } from './tags/index.ts';
import { watchArea } from './watch/index.ts';
import { waterArea } from './water/index.ts';

/** Each area registers its routes and jobs. */
const areas: ((app: FastifyInstance, service: Service) => void | Promise<void>)[] = [
  peopleArea,
  (app, service) => farmArea(app, service, { countLotsInSystem, lotsOnRack }),
  stockArea,
  racksArea,
  digestArea,
  tagsArea,
  waterArea,
  intakeArea,
  watchArea,
  roundsArea,
];

/** Builds the web application without listening. */
export async function buildApp(service: Service): Promise<FastifyInstance> {
  const app: FastifyInstance = Fastify({
    loggerInstance: service.log as FastifyBaseLogger,
    trustProxy: service.config.TRUST_PROXY,
    bodyLimit: 2 * 1024 * 1024,
    routerOptions: { ignoreTrailingSlash: true },
    logController: new Fastify.LogController({ disableRequestLogging: true }) as never,
  });
  await addGuards(app, service);
  addRequests(app, service);
  addFailures(app, service);
  await addAssets(app);
  addHealth(app, service);
  for (const area of areas) await area(app, service);
  return app;
}
