import type { Alert } from '../../alerts/alerts.ts';
import type { Service } from '../../platform/service.ts';

import { kitPicture } from './kit.ts';
import { lotPicture } from './lot.ts';
import { type AlertPicture, type Clock, noPicture } from './picture.ts';
import { quantityOfAlert } from './quantity.rules.ts';
import { rackPicture } from './racks.ts';
import { seriesPicture } from './series.ts';
import { usePicture } from './use.ts';

/** What an alert is about, drawn; without drawings where there is nothing to draw (what is late is a list). */
export async function alertPicture(
  service: Service,
  alert: Alert,
  explains: readonly Alert[],
  clock: Clock,
): Promise<AlertPicture> {
  switch (alert.subjectType) {
    case 'lot':
      return lotPicture(service, alert, explains, clock);
    case 'lamp':
    case 'rack':
      return rackPicture(service, alert, explains, clock);
    case 'kit':
      return kitOrSeries(service, alert, clock);
    default: {
      if (alert.finding.lots.length > 0) return rackPicture(service, alert, explains, clock);
      if (alert.rule === 'demand-changed') return usePicture(service, alert, clock);
      const code = quantityOfAlert(alert);
      return code === null ? noPicture : seriesPicture(service, alert, code, clock);
    }
  }
}

/** A kit by its tests beside others; where it has none, the water that was read with it. */
async function kitOrSeries(service: Service, alert: Alert, clock: Clock): Promise<AlertPicture> {
  const picture = await kitPicture(service, alert, clock);
  if (picture.drawings.length > 0) return picture;
  const { method } = await service.db.kit.findUniqueOrThrow({
    where: { id: alert.subjectId },
    select: { method: { select: { quantityCode: true } } },
  });
  return seriesPicture(service, alert, method.quantityCode, clock);
}
