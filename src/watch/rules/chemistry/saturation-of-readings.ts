import { totalPhFromNbs } from '../../../science/carbonate/ph-scale.ts';
import {
  type CarbonateReading,
  carbonateOfReading,
  carbonateUncertainty,
  type WithUncertainty,
} from '../../../science/carbonate/reading.ts';
import { combine } from '../../../science/statistics/uncertainty.ts';
import type { ReadingFact } from '../../facts/types.ts';
import { nearestReading } from '../levels/simultaneous.ts';

/** One calculation: what it is made from and what it came to. */
export interface Saturated extends WithUncertainty {
  day: number;
  readings: { code: string; reading: ReadingFact }[];
  phTotal: number;
}

/** How far apart the readings of one calculation may lie, days; own choice by how fast each moves. */
const apart = { alkalinity: 1, salinity: 7, temperature: 1, calcium: 14 };
/** The saturations between which nothing is said. */
type OrdinaryRange = Readonly<Record<'low' | 'high', number>>;

/** A saturation is known to about a fifth, so this far from both limits its uncertainty need not be worked out. */
const farInside = (value: number, { low, high }: OrdinaryRange) => value > 1.6 * low && value < 0.7 * high;

/** Null where a partner is missing, nothing is near a limit, or the water lies outside what the equations hold for. */
export function saturationAt(
  ph: ReadingFact,
  others: ReadonlyMap<keyof typeof apart, readonly ReadingFact[]>,
  values: OrdinaryRange,
): Saturated | null {
  const near = (code: keyof typeof apart) => nearestReading(others.get(code) ?? [], ph.day, apart[code]);
  const [alkalinity, salinity, temperature, calcium] = [
    near('alkalinity'),
    near('salinity'),
    near('temperature'),
    near('calcium'),
  ];
  if (alkalinity === null || salinity === null || temperature === null) return null;
  try {
    const total = totalPhFromNbs(ph.value, salinity.value, temperature.value);
    const reading: CarbonateReading = {
      alkalinityMeqL: alkalinity.value,
      phTotal: total.phTotal,
      salinity: salinity.value,
      temperatureDegC: temperature.value,
      ...(calcium === null ? {} : { calciumMgL: calcium.value }),
    };
    if (farInside(carbonateOfReading(reading).omegaAragonite, values)) return null;
    const worked = carbonateUncertainty(reading, {
      alkalinityMeqL: alkalinity.u,
      phTotal: combine(ph.u, total.standardUncertainty),
      salinity: salinity.u,
      temperatureDegC: temperature.u,
      ...(calcium === null ? {} : { calciumMgL: calcium.u }),
    });
    const partners = { ph: { reading: ph }, alkalinity, salinity, temperature, calcium };
    const readings = Object.entries(partners).flatMap(([code, known]) =>
      known?.reading == null ? [] : [{ code, reading: known.reading }],
    );
    return { ...worked, day: ph.day, readings, phTotal: total.phTotal };
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}
