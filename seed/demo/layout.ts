import { BRIGHT_FROM, type Planted } from './planted.ts';

type FlowName = 'still' | 'low' | 'medium' | 'high';

/** One rack: its grid, the light at its middle, the flow inside and at its two ends, and whose columns are whose. */
export interface RackPlan {
  name: string;
  columns: number;
  depthMm: number;
  par: number;
  flow: readonly [inner: FlowName, ends: FlowName];
  kinds: readonly string[];
  bright?: true;
  /** From the left and from the back of its tank, mm, where it was entered. */
  place?: readonly [leftMm: number, backMm: number];
  note?: string;
}

export interface LampPlan {
  name: string;
  percent: number;
  racks: readonly RackPlan[];
}

export interface TankPlan {
  name: string;
  sizeMm: readonly [length: number, width: number, height: number];
  lamps: readonly LampPlan[];
}

export interface SystemPlan {
  name: string;
  volumeL: number;
  note: string;
  /** Where the water is kept: dKH, mg/L as NO3, degC; the part changed each week and on which weekday. */
  alkalinityDkh: number;
  nitrate: number;
  temperature: number;
  changePart: number;
  changeWeekday: number;
  alkalinityMethod: string;
  planted?: Planted;
  tanks: readonly TankPlan[];
}

export const SITE = { name: 'Farol Partido', timeZone: 'Europe/Lisbon', digestAt: '06:30' };

const LOW = ['low', 'medium'] as const;
const STRONG = ['medium', 'high'] as const;
const GENTLE = ['low', 'low'] as const;
const rack = (
  name: string,
  par: number,
  flow: RackPlan['flow'],
  kinds: string,
  more: Partial<RackPlan> = {},
): RackPlan => ({
  name,
  columns: 14,
  depthMm: 220,
  par,
  flow,
  kinds: kinds.split(' ').filter((kind) => kind !== ''),
  ...more,
});

const NORTH: SystemPlan = {
  name: 'North hall',
  volumeL: 2600,
  note: 'Two raceways and a sump; large-polyp stony corals.',
  alkalinityDkh: 8.3,
  nitrate: 7.2,
  temperature: 25.4,
  changePart: 0.12,
  changeWeekday: 3,
  alkalinityMethod: 'syringe titration',
  planted: 'nitrate-creep',
  tanks: [
    {
      name: 'Raceway 1',
      sizeMm: [2400, 700, 380],
      lamps: [
        {
          name: 'Over N1 and N2',
          percent: 60,
          racks: [
            rack('N1', 84, LOW, 'platygyra-daedalea dipsastraea-favus'),
            rack('N2', 88, LOW, 'goniastrea-retiformis favites-pentagona dipsastraea-speciosa'),
          ],
        },
        {
          name: 'Over N3',
          percent: BRIGHT_FROM,
          racks: [
            rack('N3', 94, LOW, 'trachyphyllia-geoffroyi micromussa-lordhowensis platygyra-sinensis', {
              bright: true,
            }),
          ],
        },
      ],
    },
    {
      name: 'Raceway 2, north wall, for healed pieces, waiting for buyers',
      sizeMm: [2400, 700, 380],
      lamps: [
        {
          name: 'Along the wall',
          percent: 55,
          racks: [
            rack('N4', 76, GENTLE, 'lobophyllia-hemprichii blastomussa-wellsi'),
            rack('N5', 74, GENTLE, 'homophyllia-australis cynarina-lacrymalis'),
            rack('N6', 108, LOW, 'euphyllia-glabrescens', { depthMm: 260 }),
          ],
        },
      ],
    },
  ],
};

const SOUTH: SystemPlan = {
  name: 'South hall',
  volumeL: 3200,
  note: 'Two shallow tanks in strong flow; small-polyp stony corals.',
  alkalinityDkh: 8.2,
  nitrate: 7,
  temperature: 25.6,
  changePart: 0.13,
  changeWeekday: 2,
  alkalinityMethod: 'syringe titration',
  planted: 'alkalinity-unsteady',
  tanks: [
    {
      name: 'Shallow A',
      sizeMm: [2200, 900, 300],
      lamps: [
        {
          name: 'Over shallow A',
          percent: 75,
          racks: [
            rack('S1', 270, STRONG, 'acropora-millepora acropora-tenuis', { depthMm: 120 }),
            rack('S2', 260, STRONG, 'acropora-muricata stylophora-pistillata', { depthMm: 130 }),
            rack('S3', 245, STRONG, 'montipora-digitata pocillopora-damicornis', { depthMm: 150 }),
          ],
        },
      ],
    },
    {
      name: 'Shallow B',
      sizeMm: [2200, 900, 300],
      lamps: [
        {
          name: 'Over shallow B',
          percent: 70,
          racks: [
            rack('S4', 228, STRONG, 'montipora-capricornis seriatopora-hystrix', { depthMm: 150 }),
            rack('S5', 232, STRONG, 'porites-cylindrica', { depthMm: 150 }),
            rack('S6', 230, STRONG, '', { depthMm: 150, note: 'Kept free for the spring cuts.' }),
          ],
        },
      ],
    },
  ],
};

const BROOD: SystemPlan = {
  name: 'Brood room',
  volumeL: 1800,
  note: 'Mother colonies and their first cuts.',
  alkalinityDkh: 8.7,
  nitrate: 7,
  temperature: 25.2,
  changePart: 0.12,
  changeWeekday: 4,
  alkalinityMethod: 'drop titration',
  planted: 'kit-biased',
  tanks: [
    {
      name: 'Mothers',
      sizeMm: [1800, 800, 450],
      lamps: [
        {
          name: 'Over the mothers',
          percent: 50,
          racks: [
            rack('B1', 110, LOW, 'fimbriaphyllia-ancora', { depthMm: 280 }),
            rack('B2', 108, LOW, 'fimbriaphyllia-divisa', { depthMm: 280 }),
            rack('B3', 105, LOW, 'goniopora-lobata', { depthMm: 300 }),
          ],
        },
      ],
    },
    {
      name: 'Nursery',
      sizeMm: [1600, 700, 300],
      lamps: [
        {
          name: 'Over the nursery',
          percent: 45,
          racks: [
            rack('B4', 82, LOW, 'favites-complanata cyphastrea-serailia oulophyllia-crispa'),
            rack('Nursery back rack, second shelf, for the smallest pieces', 80, LOW, 'platygyra-daedalea'),
          ],
        },
      ],
    },
  ],
};

const GREENHOUSE: SystemPlan = {
  name: 'Greenhouse loop',
  volumeL: 2400,
  note: 'Three benches on one loop; plates, leathers, mushrooms and zoanthids.',
  alkalinityDkh: 8.0,
  nitrate: 9,
  temperature: 25.8,
  changePart: 0.11,
  changeWeekday: 5,
  alkalinityMethod: 'syringe titration',
  tanks: [
    {
      name: 'Bench 1',
      sizeMm: [2000, 800, 300],
      lamps: [
        {
          name: 'Over bench 1',
          percent: 65,
          racks: [
            rack('G1', 140, LOW, 'turbinaria-reniformis merulina-ampliata', { place: [100, 80] }),
            rack('G2', 142, LOW, 'pavona-decussata echinopora-lamellosa', { place: [1150, 450] }),
          ],
        },
      ],
    },
    {
      name: 'Bench 2',
      sizeMm: [2000, 800, 300],
      lamps: [
        {
          name: 'Over bench 2',
          percent: 60,
          racks: [
            rack('G3', 115, LOW, 'sarcophyton-glaucum sinularia-flexibilis'),
            rack('G4', 112, LOW, 'lobophytum-pauciflorum xenia-umbellata'),
            rack('G5', 104, LOW, 'zoanthus-sociatus zoanthus-vietnamensis'),
          ],
        },
      ],
    },
    {
      name: 'Bench 3',
      sizeMm: [2000, 800, 300],
      lamps: [
        {
          name: 'Over bench 3',
          percent: 40,
          racks: [
            rack('G6', 84, GENTLE, 'discosoma rhodactis-indosinensis'),
            rack('G7', 88, GENTLE, 'ricordea-florida ricordea-yuma palythoa-tuberculosa'),
          ],
        },
      ],
    },
  ],
};

/** The invented farm: four systems, nine tanks, twenty-four racks. */
export const LAYOUT: readonly SystemPlan[] = [NORTH, SOUTH, BROOD, GREENHOUSE];
export const RACK_ROWS = 5;
