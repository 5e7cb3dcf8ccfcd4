import type { Figure } from '../../platform/words/figures.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { convert } from '../../science/units/convert.ts';

/** One reading as the steps use it, canonical unit. */
export interface KnownReading {
  value: number;
  /** "> " where the test only says that it is more, "< " less; else ''. */
  mark: string;
  at: Date;
  /** "24 Nov 07:30", or "24 Nov 07:30, not repeated yet" */
  when: string;
  /**
   * How much it has moved since the test before with the same method and kit, the standard uncertainty of that, and hours
   * between. A repeat is no test before: within two hours of alkalinity, a quarter of an hour of all else (own choice).
   */
  before: { change: number; u: number; hours: number } | null;
}

/** A tank with its water, m. */
export interface TankSize {
  name: string;
  lengthM: number;
  widthM: number;
  heightM: number;
}

/** What is known of one system when something is wrong with it. */
export interface SystemNumbers {
  id: string;
  name: string;
  volumeL: number;
  tanks: readonly TankSize[];
  /** Readings of the last two weeks by quantity; what is not known is not there. */
  readings: Readonly<
    Partial<Record<'temperature' | 'ph' | 'salinity' | 'alkalinity' | 'oxygen', KnownReading>>
  >;
  /** What it usually was in the two weeks before, degC: the middle of the days' means; null where that is not known. */
  usualTemperature: number | null;
  /**
   * Corals on the books: pieces, those of known size, and the area of discs of their size (m2): the least that their
   * tissue can be.
   */
  stock: { pieces: number; sized: number; discM2: number };
  /** Lots here that may hold palytoxin or its kin, and how many of the site stand nowhere on the books. */
  poisonous: { lots: readonly { code: string; name: string; rack: string }[]; unplaced: number };
  /** What hangs on which circuit. */
  circuits: readonly { name: string; devices: readonly string[] }[];
}

/** Taken where nothing was read, and said so. */
export const assumed = { temperature: 25, salinity: 35, alkalinityMeqL: 8 / 2.8 } as const;

/** How the steps say a reading: in which unit, with how many decimals. */
const said = {
  temperature: { decimals: 1, unit: ' °C' },
  ph: { decimals: 2, unit: '' },
  salinity: { decimals: 1, unit: ' PSU' },
  alkalinity: { decimals: 1, unit: ' dKH' },
  oxygen: { decimals: 1, unit: ' mg/L' },
} as const;

/** The last values that the steps say, as every page names them. */
export const lastFigures = ({ id, readings }: SystemNumbers): Figure[] =>
  (Object.keys(said) as (keyof typeof said)[]).flatMap((code) => {
    const read = readings[code];
    if (read === undefined) return [];
    const { decimals, unit } = said[code];
    const shown = code === 'alkalinity' ? convert(code, read.value, 'meq/L', 'dKH') : read.value;
    const number = `${read.mark}${numberWords(shown, decimals)}`;
    return [{ name: `${code}.last`, of: id, value: `${number}${unit}`, text: `${read.when}: ${number}` }];
  });

/** Open surface of all tanks, m2; null where no tank is entered. */
export function surfaceM2({ tanks }: SystemNumbers): number | null {
  if (tanks.length === 0) return null;
  return tanks.reduce((sum, { lengthM, widthM }) => sum + lengthM * widthM, 0);
}
