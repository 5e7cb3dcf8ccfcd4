import { doserGives, type Farm, lampsGive, type System, troublesOn, useOf } from '../farm/farm.ts';
import { foundAt } from '../farm/troubles.ts';
import { dkh, omegaOf } from '../farm/water.ts';
import type { Code } from '../hands/book.ts';
import { bands, isTrueOfLevel, isTrueOfLots, wasOn } from '../truth.ts';
import type { Alert } from './watch.ts';

/** Work that is due or late, what is noted as off, lots that were ill until lately: said of the log, so never false. */
const ofTheLog: readonly string[] = [
  ...['overdue', 'still-off', 'survey-old', 'kit-missing', 'kit-unfit', 'look-overdue', 'equipment-fault'],
  'pest-in-water',
  'recovering',
];

const ofAlkalinity = [
  ...foundAt.doser,
  'kit reads wrong',
  'large sale',
  'top-up stuck on',
  'top-up stuck off',
] as const;

/** Whether what an alert says is truly so, or comes of a trouble of the last ten days. Asked for the count alone; nothing acts on it. */
export function isTrueAlert(farm: Farm, system: System, alert: Alert): boolean {
  const { rule, facet, subject, finding } = alert;
  if (ofTheLog.includes(rule)) return true;
  const lots = [...finding.lots, subject.id];
  const balance = system.doseSet * doserGives(farm, system) - useOf(system);
  switch (rule) {
    case 'alkalinity-falling':
      return balance < -0.04 * dkh || isTrueOfLevel(farm, system, 'alkalinity');
    case 'alkalinity-unsteady':
      // What is told as a steady fall or rise is true where dose and use are apart, as of the alert on falling.
      return (
        (facet === 'trend' && Math.abs(balance) > 0.04 * dkh) ||
        wasOn(farm, system, ofAlkalinity, 21) ||
        omegaOf(system.water) > 7.5 ||
        isTrueOfLevel(farm, system, 'alkalinity')
      );
    case 'overdose':
    case 'precipitation':
    case 'saturation':
    case 'calcium-alkalinity':
      return (
        wasOn(farm, system, ofAlkalinity, 21) ||
        omegaOf(system.water) > 7.5 ||
        isTrueOfLevel(farm, system, 'alkalinity')
      );
    case 'demand-changed':
      return (
        wasOn(farm, system, ofAlkalinity, 21) ||
        isTrueOfLots(
          system,
          system.lots.map(({ id }) => id),
        ) ||
        Math.abs(balance) > 0.12 * system.doseSet
      );
    case 'kit-biased':
      // An alert that two bottles differ is true where they do, whichever is wrong.
      return (
        Math.abs(system.bottle.bias) > 0.04 ||
        (/differ/.test(alert.title) && Math.abs(system.bottle.bias - system.bottle.before) > 0.04) ||
        wasOn(farm, system, ['kit reads wrong'], 21)
      );
    case 'nitrate-creep':
      return (
        wasOn(farm, system, ['food changed', 'changes skipped'], 30) || isTrueOfLevel(farm, system, 'nitrate')
      );
    case 'nitrate-level':
      return isTrueOfLevel(farm, system, 'nitrate');
    case 'heat-stress':
      return system.water.temperature > 27.5 || wasOn(farm, system, foundAt.heater);
    case 'warming-fast':
      return wasOn(farm, system, foundAt.heater, 3);
    case 'sinking-fast':
      return wasOn(farm, system, [...foundAt.heater, ...foundAt.pumps], 3);
    case 'out-of-band':
      return facet in bands && isTrueOfLevel(farm, system, facet as Code);
    case 'cut-batch':
      return wasOn(farm, system, ['bad cuts'], 30);
    case 'too-much-light':
    case 'too-little-light':
    case 'light-step':
      return (
        troublesOn(farm, system.index, ['wrong move']).length > 0 ||
        system.racks.some(
          (rack, r) => Math.abs((lampsGive(farm, system, r) * rack.percent) / 70 - 1) > 0.1,
        ) ||
        wasOn(farm, system, ['wrong move', 'lamp turned up', 'lamp fallen', 'lamp ageing'])
      );
    default:
      return isTrueOfLots(system, lots);
  }
}
