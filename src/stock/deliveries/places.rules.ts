/** A free slot of the tank; light as PAR in umol/(m2 s), null where nobody measured it. */
export interface FreePlace {
  slotId: string;
  rackId: string;
  par: number | null;
}

/** A lot that is brighter than it was used to by more than this is not set there (common practice: 10 to 15 % a step). */
const brighter = 1.1;

/**
 * A slot for each lot in their order, null where none is left. What it stood in before is not known: the dimmest rack, by the
 * mean of its slots; known: the brightest slot that is no more than a tenth brighter than that, else the dimmest.
 *
 * @param known PAR that each lot stood in before; null where that is not known
 */
export function choosePlaces(
  known: readonly (number | null)[],
  free: readonly FreePlace[],
): (FreePlace | null)[] {
  const mean = new Map(
    [...Map.groupBy(free, ({ rackId }) => rackId)].map(([rackId, slots]) => {
      const pars = slots.flatMap(({ par }) => par ?? []);
      return [
        rackId,
        pars.length === 0 ? Number.POSITIVE_INFINITY : pars.reduce((a, b) => a + b, 0) / pars.length,
      ];
    }),
  );
  const dimmest = free.toSorted(
    (a, b) =>
      (mean.get(a.rackId) ?? 0) - (mean.get(b.rackId) ?? 0) || (a.par ?? Infinity) - (b.par ?? Infinity),
  );
  const left = new Set(dimmest);
  const chosen: (FreePlace | null)[] = known.map(() => null);
  const take = (i: number, place: FreePlace | undefined) => {
    if (place === undefined) return;
    left.delete(place);
    chosen[i] = place;
  };
  // Those of which nothing is known first: they need the dim slots.
  for (const [i, par] of known.entries()) if (par === null) take(i, [...left][0]);
  for (const [i, par] of known.entries()) {
    if (par === null) continue;
    const borne = [...left].filter((place) => place.par !== null && place.par <= brighter * par);
    take(i, borne.toSorted((a, b) => (b.par ?? 0) - (a.par ?? 0))[0] ?? [...left][0]);
  }
  return chosen;
}
