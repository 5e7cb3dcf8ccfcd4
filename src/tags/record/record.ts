/** One quantity of the water that pieces lived in, in the farm's display unit, over the last 30 days. */
export interface RecordedWater {
  quantity: string;
  name: string;
  unit: string;
  median: number;
  low: number;
  high: number;
  tests: number;
  /** How many of the tests were below detection; they count with the limit of detection. */
  belowDetection: number;
  decimals: number;
  /** Why the figure should be read with care; empty when there is nothing to say. */
  doubt: string;
  /** The days of its first and last test in the farm's zone, "2026-11-12"; earlier formats do not say them. */
  from?: string;
  to?: string;
  /** What the last of the tests read; formats before 4 do not say it. */
  latest?: number;
  /** What a later test read that still waits for a repeat; left out where there is none. */
  waiting?: number;
}

/** What was added to the water in the last `days`, as far as it is known. */
export interface RecordedDosing {
  days: number;
  substances: { substance: string; times: number }[];
  /** Since when somebody says that nothing is dosed there, "2026-11-12"; null where nobody says so. */
  nothingSince: string | null;
}

/** Light over a stretch of days: mean daily integral, mol/(m2 d), and the span of PAR, umol/(m2 s). */
export interface RecordedLight {
  days: number;
  dailyLight: number;
  parLow: number;
  parHigh: number;
  /** Standard error of the PAR, its mean over the days; formats before 4 do not say it. */
  error?: number;
  /** The first day of the stretch on which the light was known, "2026-11-12"; format 1 does not say it. */
  knownFrom?: string;
}

/** What the pieces of one tag lived in, frozen when it was issued. Times are ISO 8601, lengths mm. */
export interface TagRecord {
  /** Format 2 says from when on the light was known; format 3 from when to when the water was tested, and what was dosed; format 4 what the last test read, and how far the light is sure. */
  format:
    | 'evenwater-care-record/1'
    | 'evenwater-care-record/2'
    | 'evenwater-care-record/3'
    | 'evenwater-care-record/4';
  issuedAt: string;
  site: string;
  lot: string;
  /** The farm's own code and the trade name; left out where there are none. */
  ownCode?: string;
  tradeName?: string;
  pieces: number;
  kind: string;
  /** What the trade calls its kind; left out where no name is known. */
  commonName?: string;
  identification: {
    scientificName: string;
    identificationQualifier: string;
    identifiedBy: string;
    dateIdentified: string;
  } | null;
  light: {
    par: number;
    dailyLight: number;
    /** True when the lamps were turned since the survey: scaled, not measured. */
    estimated: boolean;
    measuredOn: string | null;
    /** Standard error of `par`, and whether a survey read its very place; formats before 4 say neither. */
    error?: number;
    measuredHere?: boolean;
    /** mol/(m2 d); 0 where it is not known what they are used to. */
    accustomed: number;
    /** Hours lit a day; 0 where they are not known, and with them every daily sum. */
    hours: number;
    spans: RecordedLight[];
  } | null;
  flow: { low: string; high: string; jet: boolean } | null;
  water: RecordedWater[];
  /** Null where neither a dose nor that none is given was ever recorded; earlier formats do not say it. */
  dosing?: RecordedDosing | null;
  feeding: { times: number; days: number; foods: string[]; pumpsOffMin: number | null };
  arrivedAt: string;
  cut: { at: string; from: string } | null;
  descent: string[];
  sizeMm: number | null;
  condition: { state: string; at: string } | null;
  cautions: string[];
  permit: string;
  /** What the kind is kept at, for planning its start elsewhere. */
  care: {
    parLow: number | null;
    parHigh: number | null;
    parCeiling: number | null;
    stepRatio: number;
    dwellDays: number;
    adaptationDays: number;
    feeding: string;
  };
}
