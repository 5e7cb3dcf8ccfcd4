/** Units of everything that is measured, and reading them from text. */
export { canonicalUnit, convert, convertDifference, possibleValue, unitsOf } from './units/convert.ts';
export { convertMeasure, type Measure, unitsOfMeasure } from './units/measures.ts';
export { unitName } from './units/names.ts';
export { readNumber } from './units/number-text.ts';
export { isQuantityCode, QUANTITIES, type QuantityCode } from './units/quantities.ts';
export { parseReadingText } from './units/reading-text.ts';
export { GRAVITY_BASES } from './units/salinity.ts';
export { readUnit } from './units/unit-text.ts';
