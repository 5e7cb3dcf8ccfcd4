import type { Service } from '../../src/platform/service.ts';
import { compareSites } from '../../src/watch/affected/affected.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { receiveDelivery } from './delivery.ts';
import { plantOutbreak } from './outbreak.ts';
import { takeStock } from './stocktake.ts';

/** What the farm lived through in its last days, by the service itself: a stocktake, a delivery, an outbreak. */
export async function liveLastDays(service: Service): Promise<void> {
  await takeStock(service);
  await receiveDelivery(service);
  await plantOutbreak(service);
  await compareSites(service, service.now());
  await evaluateSystems(service, 'all', service.now());
}
