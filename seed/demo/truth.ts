import type { TrueWater, WaterHistory } from './chemistry.ts';
import { excess, type LotLight } from './condition.ts';
import type { Farm } from './farm.ts';
import type { DemoKit } from './kits.ts';
import { BRIGHT_DAYS, CREEP_DAYS, KIT_DAYS, KIT_GAIN, type Planted, UNSTEADY_DAYS } from './planted.ts';
import type { LiveLot } from './stock-book.ts';
import type { Flows, Solute } from './water.ts';
import { DAYS, type World } from './world.ts';

/** One planted trouble: which rule should find which subjects, and since when it is so. */
export interface PlantedTrouble {
  rule: Planted | 'too-much-light';
  subjectType: 'system' | 'lot' | 'kit';
  subjectIds: string[];
  systemId: string;
  since: Date;
}

/** What truly was, for comparison with what the service finds. */
export interface Truth {
  planted: PlantedTrouble[];
  /** Nothing should be found here. */
  calmSystemId: string;
  brightRackId: string;
  systems: {
    systemId: string;
    name: string;
    mornings: TrueWater[];
    flows: Record<Solute, Flows>;
    end: Record<Solute, number>;
  }[];
}

interface Known {
  world: World;
  farm: Farm;
  waters: readonly WaterHistory[];
  kits: readonly DemoKit[];
  lots: readonly LiveLot[];
  lotLights: ReadonlyMap<string, LotLight>;
}

const SINCE = { 'nitrate-creep': CREEP_DAYS, 'alkalinity-unsteady': UNSTEADY_DAYS, 'kit-biased': KIT_DAYS };

/** Collects the truth of a simulated farm. */
export function truthOf(known: Known): Truth {
  const { farm, waters } = known;
  const rack = farm.systems.flatMap((s) => s.tanks.flatMap((t) => t.racks)).find(({ plan }) => plan.bright);
  const calm = farm.systems.find(({ plan }) => plan.planted === undefined);
  if (!rack || !calm) throw new Error('the layout has no bright rack or no calm system');
  return {
    planted: [...plantedInWater(known), tooBright(known)],
    calmSystemId: calm.id,
    brightRackId: rack.id,
    systems: farm.systems.map(({ id, plan }, index) => {
      const { mornings, flows, end } = waters[index] as WaterHistory;
      return { systemId: id, name: plan.name, mornings, flows, end };
    }),
  };
}

function plantedInWater({ world, farm, kits }: Known): PlantedTrouble[] {
  const biased = kits.filter(({ gain }) => gain === KIT_GAIN).map(({ id }) => id);
  return farm.systems.flatMap(({ id, plan: { planted } }) =>
    planted === undefined
      ? []
      : [
          {
            rule: planted,
            subjectType: planted === 'kit-biased' ? ('kit' as const) : ('system' as const),
            subjectIds: planted === 'kit-biased' ? biased : [id],
            systemId: id,
            since: world.at(DAYS - SINCE[planted], 7.75),
          },
        ],
  );
}

/** The lots that clearly stand in more light today than they bear. */
function tooBright({ world, farm, lots, lotLights }: Known): PlantedTrouble {
  const clearly = lots.filter((lot) => {
    const light = lotLights.get(lot.id);
    return lot.pieces > 0 && light !== undefined && excess(lot, light, DAYS) > 0.02;
  });
  const system = farm.systems.find(({ tanks }) =>
    tanks.some(({ racks }) => racks.some(({ plan }) => plan.bright)),
  );
  return {
    rule: 'too-much-light',
    subjectType: 'lot',
    subjectIds: clearly.map(({ id }) => id),
    systemId: system?.id ?? '',
    since: world.at(DAYS - BRIGHT_DAYS, 12),
  };
}
