import { finite } from '../numeric/range.ts';

/**
 * Factors to the canonical g, L and mm. Sources: International yard and pound agreement 1959 (pound, ounce, inch, foot);
 * NIST Handbook 44, Appendix C (US gallon of 231 cubic inches, US fluid ounce); UK Units of Measurement
 * Regulations 1995 (gallon). All exact.
 */
const FACTORS = {
  mass: { g: 1, kg: 1000, mg: 0.001, oz: 28.349523125, lb: 453.59237 },
  volume: {
    L: 1,
    mL: 0.001,
    m3: 1000,
    'gal (US)': 3.785411784,
    'gal (UK)': 4.54609,
    'fl oz (US)': 0.0295735295625,
  },
  length: { mm: 1, cm: 10, m: 1000, in: 25.4, ft: 304.8 },
} as const;

export type Measure = keyof typeof FACTORS;

/** The codes of the units of mass, volume or length, the canonical one first (g, L, mm). */
export function unitsOfMeasure(measure: Measure): string[] {
  return Object.keys(FACTORS[measure]);
}

/** A mass, volume or length in another unit. Exact. Throws a RangeError for an unknown unit or a value not finite. */
export function convertMeasure(measure: Measure, value: number, fromUnit: string, toUnit: string): number {
  finite(value, measure, fromUnit);
  return fromUnit === toUnit ? value : (value * factor(measure, fromUnit)) / factor(measure, toUnit);
}

function factor(measure: Measure, unit: string): number {
  const found = (FACTORS[measure] as Readonly<Record<string, number>>)[unit];
  if (found !== undefined) return found;
  throw new RangeError(
    `"${unit}" is not a unit of ${measure} (its units: ${unitsOfMeasure(measure).join(', ')})`,
  );
}
