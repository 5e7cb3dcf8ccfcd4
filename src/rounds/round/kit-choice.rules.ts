import type { Choice } from '../../water/readings/entry-form.ts';

/** A system in which a kit was used of late. */
export interface KitUse {
  kitId: string;
  systemId: string;
}

const kitOf = ({ value }: Choice): string => value.split('/')[1] ?? '';

/** Kits and methods with the room's own first: kits used in this system, those used nowhere yet, those of other systems. */
export function ownKitsFirst(hows: readonly Choice[], systemId: string, uses: readonly KitUse[]): Choice[] {
  const rank = (how: Choice): number => {
    const own = uses.filter(({ kitId }) => kitId === kitOf(how));
    if (own.some((use) => use.systemId === systemId)) return 0;
    return own.length === 0 ? 1 : 2;
  };
  return hows.toSorted((a, b) => rank(a) - rank(b));
}

/** What was used last where it is still in use, else the first of the same method, else the first of all. */
export function chosenKit(
  { methodId, kitId }: { methodId: string | null; kitId: string | null },
  hows: readonly Choice[],
): string {
  const wanted = kitId === null ? methodId : `${methodId}/${kitId}`;
  const same =
    hows.find((how) => how.value === wanted) ??
    hows.find((how) => methodId !== null && how.value.startsWith(methodId));
  return (same ?? hows[0])?.value ?? '';
}
