import type { Reader } from '../../platform/service.ts';
import { litres, sizeWords } from '../../platform/units/measures.ts';

const inOrder = [{ position: 'asc' } as const, { name: 'asc' } as const];

/** A site's systems with their tanks, and each tank's racks and lamps. */
export async function farmOutline(db: Reader, siteId: string) {
  const systems = await db.system.findMany({
    where: { siteId },
    orderBy: [{ retiredAt: { sort: 'asc', nulls: 'first' } }, ...inOrder],
    include: {
      tanks: {
        orderBy: inOrder,
        include: {
          racks: {
            orderBy: inOrder,
            select: { id: true, name: true, rows: true, columns: true, lampId: true },
          },
          lamps: { orderBy: { name: 'asc' }, select: { id: true, name: true } },
        },
      },
    },
  });
  return systems.map(({ tanks, ...system }) => ({
    ...system,
    volume: litres(system.volumeL),
    tanks: tanks.map(tankLine),
  }));
}

export type FarmOutline = Awaited<ReturnType<typeof farmOutline>>;

interface TankParts {
  id: string;
  name: string;
  lengthMm: number;
  widthMm: number;
  heightMm: number;
  racks: { id: string; name: string; rows: number; columns: number; lampId: string | null }[];
  lamps: { id: string; name: string }[];
}

function tankLine({ id, name, lengthMm, widthMm, heightMm, racks, lamps }: TankParts) {
  return { id, name, size: sizeWords(lengthMm, widthMm, heightMm), racks, lamps };
}

/** The next step in setting up a farm, the most basic first; null when nothing is missing. */
export function nextStep(
  systems: FarmOutline,
): { what: string; todo: string; href: string; action: string } | null {
  const inService = systems.filter((system) => system.retiredAt === null);
  const [system] = inService;
  if (system === undefined) {
    return {
      what: 'No systems yet.',
      todo: 'Begin with one body of shared water and its net volume. Tanks, lamps and racks come inside it.',
      href: '/farm/systems/new',
      action: 'Add a system',
    };
  }
  const withoutTank = inService.find(({ tanks }) => tanks.length === 0);
  if (withoutTank !== undefined) {
    return {
      what: `${withoutTank.name} has no tank yet.`,
      todo: 'Add the vessels its water runs through. Only those that hold animals are needed.',
      href: `/farm/systems/${withoutTank.id}/tanks/new`,
      action: 'Add a tank',
    };
  }
  const tanks = inService.flatMap((one) => one.tanks);
  const withoutRack = tanks.find(({ racks }) => racks.length === 0);
  if (withoutRack !== undefined) {
    return {
      what: `${withoutRack.name} has no rack yet.`,
      todo: 'A rack is a shelf or a stretch of rockwork, drawn as a grid; its slots are made with it.',
      href: `/farm/tanks/${withoutRack.id}/racks/new`,
      action: 'Add a rack',
    };
  }
  const withoutLamps = tanks.find(({ lamps }) => lamps.length === 0);
  if (withoutLamps === undefined) return null;
  return {
    what: `${withoutLamps.name} has no lamps yet.`,
    todo: 'Lamps that are set together count as one. Their hours and settings tell what light a lot gets in a day.',
    href: `/farm/tanks/${withoutLamps.id}/lamps/new`,
    action: 'Add lamps',
  };
}
