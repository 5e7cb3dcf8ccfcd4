import { convertDifference } from '../../src/science/units/convert.ts';

/** How long ago each trouble began, days before today. */
export const CREEP_DAYS = 65;
export const UNSTEADY_DAYS = 21;
export const BRIGHT_DAYS = 11;
export const KIT_DAYS = 38;

/** What the creep adds each week, as a part of the usual level: 1 mg/L a week on 8, as in the rules' simulation study. */
export const CREEP_PER_WEEK = 0.12;
/** The kit reads this part of what is there. */
export const KIT_GAIN = 0.9;
/** The lamp stood at the first and was turned up to the second, per cent. */
export const BRIGHT_FROM = 50;
export const BRIGHT_TO = 95;
/** A failing doser gives its dose times 1 plus or minus up to this part. */
export const FAULT_SPREAD = 0.57;

/** The saw whose cuts heal badly. */
export const BURNING_SAW = 'Old band saw';

/** A difference in dKH as meq/L. */
export const dkh = (difference: number) => convertDifference('alkalinity', difference, 'dKH', 'meq/L');

export type Planted = 'nitrate-creep' | 'alkalinity-unsteady' | 'kit-biased';
