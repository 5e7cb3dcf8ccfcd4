import {
  DAILY_CAPS,
  type DailyCap,
  gramsForRise,
  LIMEWATER_UNCERTAINTY,
  limewaterLimitMeqLPerDay,
  millilitresForRise,
  SUBSTANCES,
  type SubstanceCode,
  saturatedLimewater,
  solutionByClaim,
} from '../../science/dosing.ts';
import { combine } from '../../science/statistics/uncertainty.ts';

/** The quantities that can be corrected. */
export const correctable = ['alkalinity', 'calcium', 'magnesium', 'salinity'] as const;
export type Correctable = (typeof correctable)[number];

/** Whether a quantity can be corrected, by its code. */
export const isCorrectable = (code: string): code is Correctable =>
  (correctable as readonly string[]).includes(code);

/** What a correction is made with: a dry substance, limewater, a solution of stated strength, or an exchange of water. */
export type MeansCode =
  | Exclude<SubstanceCode, 'calcium-hydroxide'>
  | 'saturated-limewater'
  | 'solution'
  | 'exchange';

/** What can correct each quantity, the gentlest first. */
export const meansFor: Readonly<Record<Correctable, readonly MeansCode[]>> = {
  alkalinity: ['sodium-bicarbonate', 'sodium-carbonate', 'saturated-limewater', 'solution', 'exchange'],
  calcium: ['calcium-chloride-dihydrate', 'calcium-chloride', 'solution', 'exchange'],
  magnesium: ['magnesium-chloride-hexahydrate', 'magnesium-sulphate-heptahydrate', 'solution', 'exchange'],
  salinity: ['exchange'],
};

/** How far each quantity may be moved in a day. */
export const caps: Readonly<Record<Correctable, DailyCap>> = DAILY_CAPS;

/** What a retest may differ from the plan by besides its uncertainty: a quarter of a usual day's change; own choice. */
export const marginOf = (quantity: Correctable): number => caps[quantity].usual / 4;

/** What a person states for working out the amounts; canonical units. */
export interface StatedAmounts {
  /** Share of the dry substance in what is weighed, 0.5 to 1. */
  purity: number | null;
  /** "So many mL in so many L raise it by so much", as a bottle says it. */
  solution: { doseMl: number; volumeL: number; rise: number; name: string } | null;
  limewater: { temperatureDegC: number; evaporationLPerDay: number } | null;
  /** Level of the quantity in the water that comes in by an exchange. */
  makeUp: number | null;
}

/** What a correction is made with, and how much of it moves the system by how much. */
export interface Means {
  code: MeansCode;
  name: string;
  unit: 'g' | 'mL' | 'L';
  /** Amount that raises the system by one canonical unit; null for an exchange. */
  amountPerRise: number | null;
  makeUp: number | null;
  /** Relative standard uncertainty of what an amount does. */
  relativeU: number;
  /** The most of it that may go in on one day; null where only the cap bounds it. */
  mostPerDay: { amount: number; why: string } | null;
}

/** Relative standard uncertainties, own choice: of a system's volume (rock, gravel, the level of the day), a purity, a strength. */
const volumeU = 0.05;
const purityU = 0.02;
const strengthU = 0.05;

/** The name of a means in words. */
export function meansName(code: MeansCode): string {
  if (code === 'saturated-limewater') return 'saturated limewater';
  if (code === 'solution') return 'a solution of stated strength';
  return code === 'exchange' ? 'exchange of water' : SUBSTANCES[code].name;
}

/**
 * A means with the amount that it takes for one unit of rise in `volumeL`.
 * @throws RangeError naming what is missing or cannot be
 */
export function meansOf(
  code: MeansCode,
  quantity: Correctable,
  stated: StatedAmounts,
  volumeL: number,
): Means {
  if (!meansFor[quantity].includes(code))
    throw new RangeError(`${meansName(code)} does not correct ${quantity}`);
  const plain = { code, name: meansName(code), makeUp: null, mostPerDay: null };
  if (code === 'exchange') {
    if (stated.makeUp === null)
      throw new RangeError('the level of the new water is needed to calculate a water change');
    return { ...plain, unit: 'L', amountPerRise: null, makeUp: stated.makeUp, relativeU: volumeU };
  }
  if (quantity === 'salinity') throw new RangeError('salinity is corrected by an exchange of water');
  if (code === 'saturated-limewater') return limewaterOf(stated, volumeL);
  if (code === 'solution') return solutionMeans(quantity, stated, volumeL);
  const amountPerRise = gramsForRise(code, quantity, 1, volumeL, stated.purity ?? 1);
  return { ...plain, unit: 'g', amountPerRise, relativeU: combine(volumeU, purityU) };
}

function solutionMeans(
  quantity: Exclude<Correctable, 'salinity'>,
  { solution }: StatedAmounts,
  volumeL: number,
): Means {
  if (solution === null) throw new RangeError('the strength of the solution is needed');
  const claimed = solutionByClaim(quantity, solution.rise, solution.doseMl, solution.volumeL);
  return {
    code: 'solution',
    name: solution.name,
    unit: 'mL',
    amountPerRise: millilitresForRise(claimed, quantity, 1, volumeL),
    makeUp: null,
    relativeU: combine(volumeU, strengthU),
    mostPerDay: null,
  };
}

/** Limewater only replaces what evaporates, so that salinity stays. */
function limewaterOf({ limewater }: StatedAmounts, volumeL: number): Means {
  if (limewater === null) throw new RangeError('evaporation a day is needed to calculate limewater');
  const { temperatureDegC, evaporationLPerDay } = limewater;
  const amountPerRise =
    millilitresForRise(saturatedLimewater(temperatureDegC), 'alkalinity', 1, volumeL) / 1000;
  const amount = limewaterLimitMeqLPerDay(evaporationLPerDay, volumeL, temperatureDegC) * amountPerRise;
  return {
    code: 'saturated-limewater',
    name: meansName('saturated-limewater'),
    unit: 'L',
    amountPerRise,
    makeUp: null,
    relativeU: combine(volumeU, LIMEWATER_UNCERTAINTY),
    mostPerDay: { amount, why: 'it may only replace what evaporates' },
  };
}

/** Every quantity that a means moves, with the one it is taken for. */
export function quantitiesChangedBy(code: MeansCode, quantity: Correctable): readonly Correctable[] {
  if (code === 'saturated-limewater') return ['alkalinity', 'calcium'];
  return code === 'exchange' ? correctable : [quantity];
}

/** What can be weighed or measured out: the step of the scale, syringe or jug for an amount of this size; own choice. */
export function weighableStep(amount: number, unit: Means['unit']): number {
  const steps = {
    g: [
      [50, 0.1],
      [500, 1],
      [Infinity, 5],
    ],
    mL: [
      [12, 0.1],
      [60, 0.5],
      [600, 1],
      [Infinity, 10],
    ],
    L: [
      [10, 0.1],
      [100, 0.5],
      [1000, 1],
      [Infinity, 10],
    ],
  } as const;
  const found = steps[unit].find(([below]) => amount < below);
  return found?.[1] ?? 10;
}
