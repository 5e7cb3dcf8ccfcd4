/** Units of everything that is measured, and reading them from text. */
export {
  canonicalUnit,
  convert,
  convertDifference,
  possibleValue,
  toCanonicalUnit,
  unitsOf,
} from './units/convert.ts';
export { convertMeasure, type Measure, unitsOfMeasure } from './units/measures.ts';
export { unitName } from './units/names.ts';
export { isQuantityCode, QUANTITIES, type QuantityCode } from './units/quantities.ts';
export { type ParsedReading, parseReadingText, type ReadingQuestion } from './units/reading-text.ts';
export { CONDUCTIVITY_REFERENCE_DEGC, GRAVITY_BASES } from './units/salinity.ts';
export { readUnit, type UnitText } from './units/unit-text.ts';
