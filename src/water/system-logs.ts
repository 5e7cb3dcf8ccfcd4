import { numberWords } from '../platform/words.ts';
import { changeWords, effectWords, feedingWords } from './log/words.rules.ts';
import type { Quantity } from './quantities/quantities.ts';
import type { SystemView } from './system.ts';
import type { WaterSystem } from './systems/systems.ts';

const logShown = 5;

/** The last of what was changed, dosed and fed, as its page lists it. */
export function logsOf(view: SystemView, system: WaterSystem) {
  const timeline = <T extends { id: string; at: Date; by: string | null }>(
    entries: readonly T[],
    what: (entry: T) => string,
    note: (entry: T) => string,
  ) =>
    entries.slice(0, logShown).map((entry) => ({
      at: entry.at,
      what: what(entry),
      note: note(entry),
      who: entry.by ?? '',
      href: '',
      voided: false,
    }));
  const words = (quantities: readonly Quantity[]) => (dose: SystemView['doses'][number]) =>
    `${numberWords(dose.amount)} ${dose.unit} ${dose.substance}${dose.effect === null ? '' : `; ${effectWords(dose, quantities)}`}`;
  return [
    {
      title: 'Water changes',
      path: 'water-changes',
      entries: timeline(
        view.changes,
        (change) => changeWords(change, system),
        (change) => change.note,
      ),
    },
    {
      title: 'Doses',
      path: 'doses',
      entries: timeline(view.doses, words(view.quantities), (dose) => dose.note),
    },
    {
      title: 'Feedings',
      path: 'feedings',
      entries: timeline(view.feedings, feedingWords, (feeding) => feeding.response),
    },
  ];
}
