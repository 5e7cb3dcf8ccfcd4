import { convert, convertDifference, convertMeasure, unitName } from '../../science/units.ts';
import { displayUnitNow, usualLevels } from './reader-quantities.ts';
import { type ownQuantities, unitsNow, unitText } from './units.ts';

type Everyday = (typeof ownQuantities)[number];

/** A unit in which numbers are kept that are no reading (limits of rules), and how whoever reads has them. */
export interface Scale {
  /** The reader's unit, as it stands beside a number. */
  unit(): string;
  /** With all its digits: words and fields round it. */
  toReader(kept: number): number;
  fromReader(typed: number): number;
}

function scale(code: Everyday, kept: string, isStep: boolean): Scale {
  const now = () => displayUnitNow(code, kept);
  const between = (value: number, from: string, to: string): number => {
    if (from === to) return value;
    if (!isStep) return convert(code, value, from, to);
    // The scales of temperature and alkalinity are straight lines: a step is the same everywhere.
    return convertDifference(code, value, from, to, usualLevels[code]);
  };
  return {
    unit: () => unitName(code, now()),
    toReader: (value) => between(value, kept, now()),
    fromReader: (value) => between(value, now(), kept),
  };
}

/** By what is measured, and in what it is kept. */
export const scales = {
  /** A temperature, degC. */
  degC: scale('temperature', 'degC', false),
  /** A difference of temperatures, degC. */
  byDegC: scale('temperature', 'degC', true),
  /** An alkalinity or a difference of two, dKH. */
  dKH: scale('alkalinity', 'dKH', true),
  /** A small length, mm. */
  mm: {
    unit: () => (unitsNow().length === 'cm' ? 'mm' : unitText(unitsNow().length)),
    toReader: (mm) => (unitsNow().length === 'cm' ? mm : convertMeasure('length', mm, 'mm', 'in')),
    fromReader: (typed) => (unitsNow().length === 'cm' ? typed : convertMeasure('length', typed, 'in', 'mm')),
  },
} as const satisfies Record<string, Scale>;
