import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { acclimationApi } from './acclimations/acclimations.api.ts';
import { acclimationPages } from './acclimations/acclimations.pages.ts';
import { newAcclimationPages } from './acclimations/new.pages.ts';
import type { DependsOnLot } from './amendments/dependents.ts';
import { placementAmendmentPages } from './amendments/placements.pages.ts';
import { receivedDatePages } from './amendments/received-date.pages.ts';
import { healingPages } from './cutting/healing.pages.ts';
import { deliveryPages } from './deliveries/deliveries.pages.ts';
import { attachedFilePages } from './files/attached-files.pages.ts';
import { forecastPages } from './growth/forecast.pages.ts';
import { kindPages } from './kinds/kinds.pages.ts';
import { lossPages } from './losses/losses.pages.ts';
import { cardPages } from './lot-page/card.pages.ts';
import { carePages } from './lot-page/care.pages.ts';
import { conditionPages } from './lot-page/conditions.pages.ts';
import { cutPages } from './lot-page/cuts.pages.ts';
import { detailsPages } from './lot-page/details.pages.ts';
import { lotHealingPages } from './lot-page/healing.pages.ts';
import { identificationPages } from './lot-page/identifications.pages.ts';
import { ledgerPages } from './lot-page/ledger.pages.ts';
import type { LighteningAskedOn } from './lot-page/photograph-measures.ts';
import { photoApi } from './lot-page/photos.api.ts';
import { photoPages } from './lot-page/photos.pages.ts';
import { placementPages } from './lot-page/placements.pages.ts';
import { recordApi } from './lot-page/record.api.ts';
import { recordPages } from './lot-page/record.pages.ts';
import { salePages } from './lot-page/sales.pages.ts';
import { sizePages } from './lot-page/sizes.pages.ts';
import type { LotEventSource } from './lot-page/timeline.ts';
import { lotApi } from './lots/lots.api.ts';
import { lotPages } from './lots/lots.pages.ts';
import type { HeldAbove } from './lots/resting.ts';
import { searchPages } from './lots/search.pages.ts';
import { endHolds, holdEndQueue } from './orders/hold-ends.ts';
import { orderPages } from './orders/order.pages.ts';
import { ordersPages } from './orders/orders.pages.ts';
import { packingPages } from './orders/packing.pages.ts';
import { returnPages } from './orders/returns.pages.ts';
import { totalsPages } from './orders/totals.pages.ts';
import { paperPages } from './papers/papers.pages.ts';
import { pestPages } from './pests/pests.pages.ts';
import type { TemperaturesOf } from './pests/tasks.ts';
import { emptiedSlotPages } from './places/emptied-slots.pages.ts';
import { quarantinePages } from './quarantine/quarantine.pages.ts';
import { lotInPhotographPages } from './rack-photographs/corrections.pages.ts';
import { rackPhotographApi } from './rack-photographs/rack-photographs.api.ts';
import { rackPhotographPages } from './rack-photographs/rack-photographs.pages.ts';
import { readinessPages } from './sales/readiness.pages.ts';
import { severalConditionPages } from './several/conditions.pages.ts';
import { retirementPages } from './several/counts.pages.ts';
import { severalCutPages } from './several/cuts.pages.ts';
import { figurePages } from './several/figures.pages.ts';
import { severalPhotoPages } from './several/photos.pages.ts';
import { siteMovePages } from './several/site.pages.ts';
import { differencePages } from './stocktakes/differences.pages.ts';
import { stocktakeApi } from './stocktakes/stocktakes.api.ts';
import { stocktakePages } from './stocktakes/stocktakes.pages.ts';
import { survivalPages } from './survival/survival.pages.ts';

const everyQuarter = '*/15 * * * *';

/** Stock: lots, what they are, how many, where they stand and how they do; kinds and their care. */
export async function stockArea(
  app: FastifyInstance,
  service: Service,
  {
    lotEvents,
    dependsOnLot,
    heldAbove,
    temperaturesOf,
    lighteningAskedOn,
  }: {
    lotEvents: readonly LotEventSource[];
    dependsOnLot: DependsOnLot;
    heldAbove: readonly HeldAbove[];
    temperaturesOf: TemperaturesOf;
    lighteningAskedOn: LighteningAskedOn;
  },
): Promise<void> {
  searchPages(app, service);
  lotPages(app, service);
  emptiedSlotPages(app, service);
  readinessPages(app, service);
  lossPages(app, service);
  stocktakePages(app, service);
  differencePages(app, service);
  stocktakeApi(app, service);
  ordersPages(app, service);
  totalsPages(app, service);
  orderPages(app, service);
  await packingPages(app, service);
  returnPages(app, service);
  paperPages(app, service);
  await deliveryPages(app, service, heldAbove, temperaturesOf);
  pestPages(app, service, temperaturesOf);
  quarantinePages(app, service);
  figurePages(app, service);
  severalCutPages(app, service);
  retirementPages(app, service);
  severalConditionPages(app, service);
  siteMovePages(app, service);
  recordPages(app, service, { lotEvents, lighteningAskedOn });
  recordApi(app, service, lotEvents);
  cardPages(app, service);
  detailsPages(app, service);
  salePages(app, service);
  placementPages(app, service);
  placementAmendmentPages(app, service, dependsOnLot);
  receivedDatePages(app, service, dependsOnLot);
  newAcclimationPages(app, service);
  acclimationPages(app, service);
  acclimationApi(app, service);
  conditionPages(app, service);
  ledgerPages(app, service);
  cutPages(app, service);
  lotHealingPages(app, service);
  healingPages(app, service);
  survivalPages(app, service);
  forecastPages(app, service);
  sizePages(app, service);
  identificationPages(app, service);
  carePages(app, service);
  kindPages(app, service);
  lotApi(app, service);
  await attachedFilePages(app, service);
  await severalPhotoPages(app, service);
  await photoPages(app, service);
  await photoApi(app, service);
  await rackPhotographPages(app, service);
  lotInPhotographPages(app, service);
  await rackPhotographApi(app, service);
  await service.jobs.work(holdEndQueue, () => endHolds(service, service.now()));
  await service.jobs.schedule(holdEndQueue, everyQuarter, 'UTC');
}
