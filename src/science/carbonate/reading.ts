import { finite, notNegative } from '../numeric/range.ts';
import { combine, propagate } from '../statistics/uncertainty.ts';
import { calciumFromMgPerL, umolPerKg } from './composition.ts';
import { CONSTANT_UNCERTAINTY, carbonateConstants } from './constants.ts';
import { type CarbonateSystem, type CarbonateWater, carbonateFromPh, carbonateWith } from './system.ts';

/** What a farm measures of one water, in its canonical units. */
export interface CarbonateReading {
  readonly alkalinityMeqL: number;
  /** On the total scale. */
  readonly phTotal: number;
  readonly salinity: number;
  readonly temperatureDegC: number;
  /** Left out, calcium of the sea at this salinity is assumed. */
  readonly calciumMgL?: number;
  /** As PO4; left out, none. */
  readonly phosphateMgL?: number;
}

/** Standard uncertainties of a reading, each in the unit of its value; left out, the value is taken as exact. */
export type ReadingUncertainty = Partial<Record<keyof CarbonateReading, number>>;

/** One result with its standard uncertainty and where that comes from. */
export interface WithUncertainty {
  value: number;
  standardUncertainty: number;
  fromMeasurement: number;
  fromConstants: number;
}

/** Results whose uncertainty can be asked for. */
export type CarbonateResult = Exclude<keyof CarbonateSystem, 'phTotal' | 'alkalinityUmolKg'>;

/** PO4 in g/mol. */
const PHOSPHATE_G_PER_MOL = 94.97;

const KEYS = [
  'alkalinityMeqL',
  'phTotal',
  'salinity',
  'temperatureDegC',
  'calciumMgL',
  'phosphateMgL',
] as const;

/**
 * The carbonate system of a reading in meq/L and mg/L. Ranges, error and sources as `carbonateFromPh`, which works
 * per kilogram; the density is that of EOS-80.
 */
export function carbonateOfReading(reading: CarbonateReading): CarbonateSystem {
  return carbonateFromPh(waterOf(reading), reading.phTotal);
}

/**
 * One result of a reading (aragonite saturation if not named) with its standard uncertainty: what the measurements
 * leave open, and what the equilibrium constants do. With a hobby probe (0.05 to 0.1 in pH) the pH decides.
 *
 * Source: law of propagation (GUM, JCGM 100:2008); constants Orr et al. 2018, Marine Chemistry 207, 84.
 */
export function carbonateUncertainty(
  reading: CarbonateReading,
  uncertainty: ReadingUncertainty,
  result: CarbonateResult = 'omegaAragonite',
): WithUncertainty {
  const value = carbonateOfReading(reading)[result];
  const fromMeasurement = measurementPart(reading, uncertainty, result);
  const fromConstants = constantsPart(reading, result);
  return {
    value,
    standardUncertainty: combine(fromMeasurement, fromConstants),
    fromMeasurement,
    fromConstants,
  };
}

function measurementPart(
  reading: CarbonateReading,
  uncertainty: ReadingUncertainty,
  result: CarbonateResult,
): number {
  const given = KEYS.filter((key) => reading[key] !== undefined);
  const inputs = given.map((key) => ({
    value: finite(reading[key] ?? Number.NaN, key),
    u: notNegative(uncertainty[key] ?? 0, `uncertainty of ${key}`),
  }));
  const evaluate = (...values: number[]) => {
    const changed = Object.fromEntries(given.map((key, i) => [key, values[i]]));
    return carbonateOfReading({ ...reading, ...changed })[result];
  };
  return propagate(evaluate, inputs).u;
}

function constantsPart(reading: CarbonateReading, result: CarbonateResult): number {
  const water = waterOf(reading);
  const k = carbonateConstants(water.salinity, water.temperatureDegC);
  const { boronShare, ...pk } = CONSTANT_UNCERTAINTY;
  const names = Object.keys(pk) as (keyof typeof pk)[];
  const evaluate = (boronFactor: number, ...shifts: number[]) => {
    const shifted = Object.fromEntries(names.map((name, i) => [name, k[name] * 10 ** -(shifts[i] ?? 0)]));
    return carbonateWith(water, reading.phTotal, { ...k, ...shifted }, boronFactor)[result];
  };
  const inputs = [{ value: 1, u: boronShare }, ...names.map((name) => ({ value: 0, u: pk[name] }))];
  return propagate(evaluate, inputs).u;
}

function waterOf(reading: CarbonateReading): CarbonateWater {
  const { salinity, temperatureDegC, calciumMgL, phosphateMgL } = reading;
  return {
    salinity,
    temperatureDegC,
    alkalinityUmolKg: umolPerKg(reading.alkalinityMeqL, salinity, temperatureDegC),
    ...(calciumMgL !== undefined && {
      calciumUmolKg: calciumFromMgPerL(calciumMgL, salinity, temperatureDegC),
    }),
    ...(phosphateMgL !== undefined && {
      phosphateUmolKg: umolPerKg(phosphateMgL / PHOSPHATE_G_PER_MOL, salinity, temperatureDegC),
    }),
  };
}
