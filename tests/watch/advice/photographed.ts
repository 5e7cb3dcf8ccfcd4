import type { Random } from '../../../src/science/statistics/random.ts';
import type { RackShots } from '../../../src/stock/rack-photographs/measures.ts';
import type { LotFact } from '../../../src/watch/facts/types.ts';
import { dayZero, onDay } from '../facts.ts';

/** How much lighter a rack's lots are in its last two photographs, L*: none, one, four of them, or all together. */
const changes: readonly ((lot: number) => number)[] = [
  () => 0,
  (lot) => (lot === 0 ? 7 : 0),
  (lot) => (lot === 1 ? 16 : 0),
  (lot) => (lot < 4 ? 9 : 0),
  () => 6,
  () => -6,
  (lot) => (lot === 2 ? 15 : 6),
];
/** Lots that stood on the rack all the time and are no longer in the books: what a rack shares is told by many. */
const goneLots = Array.from({ length: 10 }, (_, i) => `gone lot ${i}`);

/** Ten weekly photographs of a rack until the day before, a lot in them since it was placed. */
export function photographsOf(
  random: Random,
  rackId: string,
  lots: readonly LotFact[],
  today: number,
): RackShots {
  const change = changes[random.below(changes.length)] as (lot: number) => number;
  const stood = lots.filter((lot) => lot.rackId === rackId).sort((a, b) => a.placedDay - b.placedDay);
  const shown = [
    ...stood.map(({ id, placedDay }) => ({ id, placedDay })),
    ...goneLots.map((id) => ({ id, placedDay: dayZero })),
  ];
  const shots = Array.from({ length: 10 }, (_, visit) => {
    const day = today - 1 - 7 * (9 - visit);
    const seen = shown.flatMap(({ id, placedDay }, lot): [string, { L: number; u: number }][] => {
      const L = 40 + lot + (visit >= 8 ? change(lot) : 0) + 0.4 * random.normal();
      return placedDay > dayZero + day ? [] : [[id, { L, u: 0.5 }]];
    });
    const id = `photograph ${visit} of ${rackId}`;
    return { id, day: dayZero + day, at: onDay(day).toISOString(), lots: new Map(seen) };
  });
  return { rackId, rackName: rackId.replace('rack ', 'N'), systemId: 'system', shots };
}
