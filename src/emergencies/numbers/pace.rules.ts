import { levelWords, stepWords } from '../../platform/units/everyday.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { needed } from '../../water/acute/acute-states.rules.ts';
import type { KnownReading, SystemNumbers } from './system-numbers.rules.ts';

type Paced = keyof SystemNumbers['readings'];
type Side = 'below' | 'above';

/** Two tests of one water lie this many times the uncertainty of their difference apart at most, 95 in 100 (ISO 5725-6). */
const testsApart = 1.96;
/**
 * Two tests further apart than this say nothing of the pace now: all of it may have come of late. Hours; own choice, a
 * heater that failed this morning showed 1.9 °C in 50 hours.
 */
const apartHours: Readonly<Record<Paced, number>> = {
  temperature: 12,
  ph: 12,
  oxygen: 12,
  salinity: 12,
  alkalinity: 72,
};
/** A level that would take longer than this is not on its way to the edge; hours, own choice. */
const longHours = 14 * 24;

const nameOf: Readonly<Record<Paced, string>> = {
  temperature: 'Temperature',
  ph: 'pH',
  salinity: 'Salinity',
  alkalinity: 'Alkalinity',
  oxygen: 'Oxygen',
};

const level = (code: Paced, value: number): string => {
  if (code === 'ph') return numberWords(value, 2);
  return code === 'oxygen' ? `${numberWords(value, 1)} mg/L` : levelWords(code, value);
};
const step = (code: Paced, difference: number): string => {
  if (code === 'ph') return numberWords(difference, 2);
  return code === 'oxygen' ? `${numberWords(difference, 1)} mg/L` : stepWords(code, difference);
};

/** The last reading of a quantity, and how long until it is where stock does not live, where its last two tests say so. */
export const towardsEdge =
  (code: Paced, ...sides: readonly Side[]) =>
  ({ readings }: SystemNumbers): string[] => {
    const read = readings[code];
    if (read === undefined) return [];
    const last = `${nameOf[code]} read ${read.when}: ${read.mark}${level(code, read.value)}.`;
    return [`${last} ${paceOf(code, read, sides)}`];
  };

/** "It fell by 0.8 dKH in 12 h. At that pace it is at 6 dKH 16 to 30 h after that reading." */
function paceOf(code: Paced, { value, before, mark }: KnownReading, sides: readonly Side[]): string {
  const beyond = sides.map((side) => needed(code, side)).find((one) => isBeyond(one, value));
  if (beyond !== undefined) return `That is ${beyond.side} ${level(code, beyond.edge)} already: act now.`;
  if (before === null || mark !== '' || before.hours <= 0)
    return 'How fast it goes is not known: no earlier test by the same method and kit to compare it with.';
  const side: Side = before.change < 0 ? 'below' : 'above';
  const [size, off] = [Math.abs(before.change), testsApart * before.u];
  const went = `It ${side === 'below' ? 'fell' : 'rose'} by`;
  if (size >= off && before.hours > apartHours[code])
    return `${went} ${step(code, size)} since the test before, ${hours(before.hours)} h earlier; how fast it goes now is not known. Test again soon.`;
  const moved =
    before.hours <= 12
      ? `${went} ${step(code, size)} in ${hours(before.hours)} h`
      : `${went} ${step(code, (size * 24) / before.hours)} a day between the last two tests`;
  if (size < off)
    return `${went} ${step(code, size)} since the test before, no more than two tests differ: how fast it goes is not known.`;
  if (!sides.includes(side)) return `${moved}.`;
  const { edge } = needed(code, side);
  const left = (change: number) => (Math.abs(value - edge) / change) * before.hours;
  const [soonest, latest] = [left(size + off), left(size - off)];
  if (soonest > longHours) return `${moved}.`;
  const [from, to] = [hours(soonest), hours(latest)];
  const span = latest > longHours ? `${from} h or more` : from === to ? `${from} h` : `${from} to ${to} h`;
  return `${moved}. At that pace it is at ${level(code, edge)} ${span} after that reading.`;
}

const isBeyond = ({ side, edge }: { side: Side; edge: number }, value: number): boolean =>
  side === 'below' ? value <= edge : value >= edge;

const hours = (value: number): string => numberWords(value, value < 10 ? 1 : 0);
