import type { CountedRack } from '../../stock/stocktakes/state.ts';
import { rackLine } from '../../stock/stocktakes/stocktakes.words.ts';
import type { RoundSheet } from '../round/round-sheet.ts';

export const countPath = (roundId: string, rackId: string) => `/rounds/${roundId}/racks/${rackId}/count`;

/** The racks of the round that the open stocktake asks for, in walking order; none where no stocktake is open. */
export function racksToCount({ count, racks, round }: RoundSheet): CountedRack[] {
  if (count === null || round.finishedAt !== null) return [];
  const asked = new Map(count.racks.map((rack) => [rack.id, rack]));
  return racks.flatMap(({ id }) => asked.get(id) ?? []);
}

/** The racks to count as lines of the overview, and the page of the first that wants a count. */
export function countRows(sheet: RoundSheet) {
  const { count, round } = sheet;
  if (count === null) return [];
  return racksToCount(sheet).map((rack) => ({
    ...rackLine(rack, count.lots.get(rack.id) ?? [], count.stocktake),
    href: countPath(round.id, rack.id),
  }));
}
