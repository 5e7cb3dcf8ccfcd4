import { carbonateOfReading, totalPhFromNbs } from '../../science/carbonate.ts';

/** What stands in one water at once; null where it was not read of late. Canonical units, pH as the probe shows it. */
export interface WaterChemistry {
  alkalinity: number | null;
  calcium: number | null;
  magnesium: number | null;
  salinity: number | null;
  temperature: number | null;
  ph: number | null;
}

/**
 * Above this saturation of aragonite solid calcium carbonate formed and took more alkalinity out than had been put in;
 * at about 5 none formed. Moras et al. 2022, Biogeosciences 19, 3537 (natural seawater, lime).
 */
export const omegaHold = 7;
/** With little magnesium, which slows the growth of crystals, the lower figure of the same paper counts; own choice. */
export const omegaLowMagnesium = 5;
const lowMagnesium = 1100;
/** Taken where no pH was read: the upper part of the usual day, 8.1 to 8.3 (common practice). */
const assumedPh = 8.3;

export interface Saturation {
  omega: number;
  bound: number;
  /** What was taken as usual since it was not read: "pH 8.3". */
  assumed: string[];
  passes: boolean;
}

/**
 * Whether calcium, alkalinity and magnesium together pass what water keeps dissolved. Null without alkalinity or
 * outside the range of the equations.
 */
export function saturationOf(water: WaterChemistry): Saturation | null {
  if (water.alkalinity === null) return null;
  const [salinity, temperature] = [water.salinity ?? 35, water.temperature ?? 25];
  const assumed = [
    water.ph === null ? `pH ${assumedPh}` : null,
    water.calcium === null ? 'calcium as in the sea' : null,
  ].filter((one) => one !== null);
  try {
    const { phTotal } = totalPhFromNbs(water.ph ?? assumedPh, salinity, temperature);
    const { omegaAragonite } = carbonateOfReading({
      alkalinityMeqL: water.alkalinity,
      phTotal,
      salinity,
      temperatureDegC: temperature,
      ...(water.calcium === null ? {} : { calciumMgL: water.calcium }),
    });
    const bound = (water.magnesium ?? Infinity) < lowMagnesium ? omegaLowMagnesium : omegaHold;
    return { omega: omegaAragonite, bound, assumed, passes: omegaAragonite > bound };
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}
