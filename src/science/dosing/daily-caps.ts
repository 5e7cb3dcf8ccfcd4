import { convertDifference } from '../units/convert.ts';

/** How far a quantity may be moved in a day; canonical units (meq/L, mg/L, PSU). */
export interface DailyCap {
  /** Taken unless a plan gives another; more than this needs a reason. */
  usual: number;
  /** A plan with more than this is refused. */
  most: number;
  source: string;
}

const dKH = (rise: number) => convertDifference('alkalinity', rise, 'dKH', 'meq/L', 3);

/** The caps of a day, all of common practice; no published trial sets them. */
export const DAILY_CAPS: Readonly<Record<'alkalinity' | 'calcium' | 'magnesium' | 'salinity', DailyCap>> = {
  alkalinity: {
    usual: dKH(1),
    most: dKH(1.5),
    source:
      'Common practice: at most 1 dKH a day (how-to articles); damage was seen after 1 dKH or more within about an hour.',
  },
  calcium: { usual: 20, most: 30, source: 'Common practice: 20 to 30 mg/L a day; no published source.' },
  magnesium: { usual: 50, most: 100, source: 'Common practice: 50 to 100 mg/L a day; no published source.' },
  salinity: { usual: 1, most: 2, source: 'Common practice: 1 to 2 a day; no published source.' },
};
