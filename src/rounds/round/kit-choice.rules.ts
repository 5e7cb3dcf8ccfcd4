import { type KitChoice, kitOf } from '../../water/kits/kit-choice.rules.ts';

/** A system in which a kit was used of late. */
export interface KitUse {
  kitId: string;
  systemId: string;
}

/** Kits and methods with the room's own first: kits used in this system, those used nowhere yet, those of other systems. */
export function ownKitsFirst<C extends KitChoice>(
  hows: readonly C[],
  systemId: string,
  uses: readonly KitUse[],
): C[] {
  const rank = (how: C): number => {
    const own = uses.filter(({ kitId }) => kitId === kitOf(how));
    if (own.some((use) => use.systemId === systemId)) return 0;
    return own.length === 0 ? 1 : 2;
  };
  return hows.toSorted((a, b) => rank(a) - rank(b));
}
