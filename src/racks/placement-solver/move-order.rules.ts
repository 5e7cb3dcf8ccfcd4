/** One lot's way: the slots it takes now (none: it stands nowhere) and those it goes to. */
export interface Way {
  lotId: string;
  from: readonly string[];
  to: readonly string[];
}

/** One step of the walk. `lifted`: taken out, to be put down when its turn comes; `waits`: put where it waits for its place. */
export interface OrderedMove {
  lotId: string;
  slotIds: readonly string[];
  how: 'moves' | 'waits' | 'lifted';
}

/**
 * Puts moves into an order in which each finds its place free. Where lots change places in a circle, one of them waits
 * in a free slot meanwhile, or is lifted out where no free slot suits it.
 * @param taken who stands in which slot now, those that do not move included
 * @param waiting a free slot where the lot can wait, out of those offered by `isFree`; null: none suits it
 */
export function orderMoves(
  ways: readonly Way[],
  taken: ReadonlyMap<string, string>,
  waiting: (lotId: string, isFree: (slotId: string) => boolean) => string | null,
): OrderedMove[] {
  const standing = new Map(taken);
  const stands = new Map(ways.map(({ lotId, from }) => [lotId, from]));
  const wanted = new Set(ways.flatMap(({ to }) => to));
  const pending = new Map(ways.map((way) => [way.lotId, way]));
  const steps: OrderedMove[] = [];
  const step = (lotId: string, slotIds: readonly string[], how: OrderedMove['how']) => {
    for (const slot of stands.get(lotId) ?? []) standing.delete(slot);
    for (const slot of slotIds) standing.set(slot, lotId);
    stands.set(lotId, slotIds);
    steps.push({ lotId, slotIds, how });
  };
  const canGo = ({ lotId, to }: Way) => to.every((slot) => (standing.get(slot) ?? lotId) === lotId);
  while (pending.size > 0) {
    const going = [...pending.values()].filter(canGo);
    for (const way of going) {
      if (!canGo(way)) continue;
      step(way.lotId, way.to, 'moves');
      pending.delete(way.lotId);
    }
    if (going.length > 0) continue;
    const { lotId, slotId } = opening(pending, standing, stands, (lot) =>
      waiting(lot, (slot) => !standing.has(slot) && !wanted.has(slot)),
    );
    step(lotId, slotId === null ? [] : [slotId], slotId === null ? 'lifted' : 'waits');
  }
  return steps;
}

/** Whom to take out of the way: rather one that can wait in a slot. @throws Error where a lot that stays is in the way */
function opening(
  pending: ReadonlyMap<string, Way>,
  standing: ReadonlyMap<string, string>,
  stands: ReadonlyMap<string, readonly string[]>,
  waiting: (lotId: string) => string | null,
): { lotId: string; slotId: string | null } {
  const blocking = new Set<string>();
  for (const { lotId, to } of pending.values()) {
    for (const slot of to) {
      const other = standing.get(slot);
      if (other !== undefined && other !== lotId) blocking.add(other);
    }
  }
  const lots = [...blocking].filter((lot) => pending.has(lot));
  const [first] = lots;
  if (first === undefined) throw new Error('a move goes to a slot of a lot that stays');
  for (const lotId of lots) {
    const slotId = stands.get(lotId)?.length === 1 ? waiting(lotId) : null;
    if (slotId !== null) return { lotId, slotId };
  }
  return { lotId: first, slotId: null };
}
