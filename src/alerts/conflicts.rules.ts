import type { Act, Direction } from './advice.ts';

const against: Readonly<Record<Direction, readonly Direction[]>> = {
  up: ['down', 'not up', 'hold'],
  down: ['up', 'hold'],
  do: ['hold', 'not up'],
  'not up': ['up', 'do'],
  hold: ['up', 'down', 'do'],
};

const sameQuantity = (a: Act, b: Act): boolean =>
  a.quantity === '' || b.quantity === '' || a.quantity === b.quantity;

/** A level is raised by dosing: raising it is a dose more, and whoever doses less or no more does not raise it. */
const asDose = (act: Act): Act =>
  act.lever === 'level' && act.direction !== 'down' ? { ...act, lever: 'dose' } : act;

/** Two paces for one level are two instructions. */
const twoPaces = (a: Act, b: Act): boolean =>
  a.lever === 'level' &&
  b.lever === 'level' &&
  a.direction === b.direction &&
  a.pace !== '' &&
  b.pace !== '' &&
  a.pace !== b.pace;

/** Whether two acts on the same thing cannot both be done. */
export function opposes(a: Act, b: Act): boolean {
  if (!sameQuantity(a, b)) return false;
  if (twoPaces(a, b)) return true;
  const keptApart = [a, b].some(({ lever }) => lever === 'apart') && [a, b].some(isLeftInPlace);
  if (keptApart) return true;
  const [first, second] = a.lever === b.lever ? [a, b] : [asDose(a), asDose(b)];
  return first.lever === second.lever && against[first.direction].includes(second.direction);
}

const isLeftInPlace = ({ lever, direction }: Act) => lever === 'place' && direction === 'hold';
