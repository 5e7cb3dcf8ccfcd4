import { litres, litresNoted } from '../../platform/units/measures.ts';
import type { Figure } from '../../platform/words/figures.ts';
import { dayCount, numberWords, plural } from '../../platform/words/numbers.ts';
import { dayMs, daysAfter } from '../../science/numeric/time.ts';
import type { EquipmentLine } from './equipment.ts';
import { kinds } from './kinds.rules.ts';
import { type Left, type LeftInDosers, leftIn } from './reservoir.rules.ts';

/** What is left in a container, and for how many days where its use is known, as every page says it. */
export function containerWords({ litres: left, days }: Left): string {
  if (left <= 0) return 'empty by now';
  return days === null
    ? `about ${litres(left)}`
    : `${litres(left)}, for ${days < 1 ? '' : 'about '}${dayCount(Math.floor(days))}`;
}

/** What is left in the container of a device, by its id. */
export const containerFigure = (of: string, text: string): Figure => ({
  name: 'container.left',
  of,
  value: text,
  text,
});

/** What dosers with a plan have left, by id; all else goes by what was noted. */
type DoserLeft = Awaited<ReturnType<LeftInDosers>>;

/** What is left in its container, in words; empty where that is not known. */
function leftWords(device: EquipmentLine, dosers: DoserLeft, now: Date): string {
  const reckoned = dosers.get(device.id);
  const left = reckoned === undefined ? leftIn(device, now) : reckoned;
  return left === null ? '' : containerWords(left);
}

/** When a device or circuit is due again; null where nobody is asked. */
export function dueAgain(everyDays: number | null, lastAt: Date | null, since: Date): Date | null {
  return everyDays === null ? null : daysAfter(lastAt ?? since, everyDays);
}

/** A device as a row of a list. */
export function deviceRow(device: EquipmentLine, dosers: DoserLeft, now: Date) {
  const left = leftWords(device, dosers, now);
  const { id, name, kind, tankName, circuitId, circuitName, seenRunningAt, off, fault } = device;
  const serviceDue = dueAgain(device.serviceEveryDays, device.servicedAt, device.createdAt);
  const testDue = dueAgain(device.testEveryDays, device.testedAt, device.createdAt);
  const due = [serviceDue, testDue]
    .filter((day) => day !== null)
    .toSorted((a, b) => a.getTime() - b.getTime())[0];
  return {
    id,
    name,
    kind: kinds[kind].name,
    tankName,
    circuitId,
    circuitName,
    seenRunningAt,
    off,
    late: off !== null && off.dueAt <= now,
    fault,
    left,
    figures: [containerFigure(id, left)],
    due,
    overdue: due !== undefined && due.getTime() < now.getTime() - dayMs,
  };
}

/** What the books say of a device, label by label. */
export function deviceFacts(device: EquipmentLine, dosers: DoserLeft, now: Date) {
  const left = leftWords(device, dosers, now);
  const { setpoint, setpointUnit, reservoirL, useLPerDay, holds, runs } = device;
  const every = (days: number | null) => (days === null ? '' : `every ${plural(days, 'day', 'days')}`);
  const known: [string, string][] = [
    ['Setpoint', setpoint === null ? '' : `${numberWords(setpoint)} ${setpointUnit}`],
    ['Runs', runs],
    ['Container', reservoirL === null ? '' : `${litresNoted(reservoirL)}${holds && `, ${holds}`}`],
    ['Uses', useLPerDay === null ? '' : `${litresNoted(useLPerDay)} a day`],
    ['Left in it', left || (reservoirL === null ? '' : 'not known: say how much is in it')],
    ['Service', every(device.serviceEveryDays)],
    ['Test', every(device.testEveryDays)],
    ['Note', device.note],
  ];
  const figures = [containerFigure(device.id, left)];
  return known.filter(([, text]) => text !== '').map(([label, text]) => ({ label, text, figures }));
}
