import type { Chance } from '../chance.ts';

/** What can go wrong, with how often in a system-year. Nobody has published such rates: own assumptions, for all to see. */
export const rates = {
  'doser stuck on': 0.25,
  'doser blocked': 0.5,
  'doser drifting': 0.4,
  'refilled wrong': 0.3,
  'lamp turned up': 0.35,
  'lamp ageing': 0.3,
  'lamp fallen': 0.2,
  'kit reads wrong': 0.4,
  'thermostat stuck': 0.2,
  'food changed': 0.4,
  'changes skipped': 0.3,
  'heater on': 0.2,
  'heater off': 0.25,
  'pump left off': 0.6,
  'power cut': 0.3,
  'top-up stuck on': 0.2,
  'top-up stuck off': 0.3,
  'pest let in': 0.3,
  'bad cuts': 0.5,
  'wrong move': 0.7,
  'large sale': 0.4,
  'neighbour stings': 0.4,
} as const;

export type TroubleKind = keyof typeof rates;
export const troubleKinds = Object.keys(rates) as TroubleKind[];

/** One trouble as it will come. */
export interface Trouble {
  id: number;
  kind: TroubleKind;
  system: number;
  /** Days of the run, with the hour as a part. */
  from: number;
  /** How bad it is among its kind, 0 to 1. */
  size: number;
  /** A number of its own, by which it chooses what it befalls. */
  pick: number;
  /** The day by which somebody would stumble over it without looking; what ends by itself has ended then. */
  byChance: number;
  /** Whoever did it wrote it down (a pump switched off, lamps turned up, a lot moved, a sale). */
  noted: boolean;
  endedDay: number | null;
}

/** Mean days until somebody stumbles over it, the same for every policy (own assumptions): what is seen or heard goes fast. */
const stumbled: Readonly<Record<TroubleKind, number>> = {
  'doser stuck on': 12,
  'doser blocked': 30,
  'doser drifting': 60,
  'refilled wrong': 45,
  'lamp turned up': 45,
  'lamp ageing': 200,
  'lamp fallen': 8,
  'kit reads wrong': 80,
  'thermostat stuck': 25,
  'food changed': 150,
  'changes skipped': 45,
  'heater on': 3,
  'heater off': 4,
  'pump left off': 0.5,
  'power cut': 0,
  'top-up stuck on': 3,
  'top-up stuck off': 7,
  'pest let in': 90,
  'bad cuts': 40,
  'wrong move': 90,
  'large sale': 60,
  'neighbour stings': 60,
};

/** How often whoever did it wrote it down. */
const noting: Partial<Record<TroubleKind, number>> = {
  'pump left off': 0.7,
  'lamp turned up': 0.5,
  'wrong move': 0.8,
  'large sale': 0.9,
  'changes skipped': 1,
};

/** The troubles of a run, by time. They do not depend on what anybody does. */
export function troublesOf(
  chance: Chance,
  { systems, from, days, oftener = 1 }: { systems: number; from: number; days: number; oftener?: number },
): Trouble[] {
  const all: Omit<Trouble, 'id'>[] = [];
  for (let system = 0; system < systems; system++) {
    for (const kind of troubleKinds) {
      let [day, n] = [from, 0];
      while (true) {
        const what = [kind, system, n] as const;
        day += chance.wait(365 / (oftener * rates[kind]), 'trouble', ...what);
        if (day >= from + days) break;
        n += 1;
        all.push({
          ...{ kind, system, from: hourOf(chance, kind, day, what), endedDay: null },
          size: chance.uniform('size', ...what),
          pick: chance.uniform('pick', ...what),
          byChance: hourOf(chance, kind, day, what) + lasts(chance, kind, what),
          noted: chance.happens(noting[kind] ?? 0, 'noted', ...what),
        });
      }
    }
  }
  return all.sort((a, b) => a.from - b.from).map((one, id) => ({ ...one, id }));
}

/** What people forget begins while they are there. */
function hourOf(chance: Chance, kind: TroubleKind, day: number, what: readonly (string | number)[]): number {
  if (kind !== 'pump left off') return day;
  return Math.floor(day) + chance.between(9.5, 17.5, 'hour', ...what) / 24;
}

/** A power cut lasts for 3 to 15 hours; of all others somebody stumbles over it in the end. */
function lasts(chance: Chance, kind: TroubleKind, what: readonly (string | number)[]): number {
  if (kind === 'power cut') return chance.between(3, 15, 'hours', ...what) / 24;
  return 0.1 + chance.wait(stumbled[kind], 'stumbled', ...what);
}

/** What is looked at when somebody checks a thing, with the troubles that he finds there. */
export const foundAt = {
  doser: ['doser stuck on', 'doser blocked', 'doser drifting', 'refilled wrong'],
  heater: ['heater on', 'heater off', 'thermostat stuck'],
  pumps: ['pump left off', 'power cut'],
  'top-up': ['top-up stuck on', 'top-up stuck off'],
  lamps: ['lamp turned up', 'lamp ageing', 'lamp fallen'],
  kit: ['kit reads wrong'],
  food: ['food changed'],
  changes: ['changes skipped'],
  neighbours: ['neighbour stings'],
  pests: ['pest let in'],
  cuts: ['bad cuts'],
  places: ['wrong move'],
  dose: ['large sale'],
} as const satisfies Record<string, readonly TroubleKind[]>;

export type Thing = keyof typeof foundAt;
