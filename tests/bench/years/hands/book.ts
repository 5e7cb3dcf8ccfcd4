/** What the farm has written down; days of the run, the hour as a part. Nothing of the truth is in it. */
export interface Book {
  /** By system. */
  systems: SystemBook[];
}

export interface SystemBook {
  readings: Entry[];
  changes: { at: number; part: number; once: boolean }[];
  doses: { at: number; rise: number; once: boolean }[];
  looks: Look[];
  lamps: { at: number; rack: number; percent: number }[];
  /** What a meter showed of a rack, over what its first survey showed. */
  surveys: { at: number; rack: number; part: number; percent: number }[];
  moves: { at: number; lot: string }[];
  off: { at: number; dueAt: number; backAt: number | null }[];
  sales: { at: number }[];
  /** Lots that were cut, or cut from. */
  cuts: { at: number; lot: string }[];
  bottles: { n: number; at: number; checks: { at: number; value: number }[]; putAwayAt: number | null }[];
  pests: { at: number; lot: string; endedAt: number | null }[];
  /** What was looked at and set right, by thing. */
  checked: { at: number; thing: string; found: boolean }[];
}

export type Code = 'alkalinity' | 'calcium' | 'nitrate' | 'phosphate' | 'salinity' | 'temperature' | 'ph';
export type Sign = 'well' | 'paling' | 'bleached' | 'receding';

/** A lot as it was seen; `compared`: with the look before, as the page asks of a lot that was not well then. */
export interface Look {
  at: number;
  lot: string;
  state: Sign;
  grade: 1 | 2 | 3;
  compared: 'better' | 'as_before' | 'worse' | null;
}

/** One test. `bottle`: as it is known which one was used. */
export interface Entry {
  code: Code;
  at: number;
  value: number;
  bottle: number | null;
}

export const newBook = (systems: number): Book => ({
  systems: Array.from({ length: systems }, () => ({
    ...{
      readings: [],
      changes: [],
      doses: [],
      looks: [],
      lamps: [],
      surveys: [],
      moves: [],
      off: [],
      sales: [],
      cuts: [],
    },
    ...{ bottles: [{ n: 0, at: 0, checks: [], putAwayAt: null }], pests: [], checked: [] },
  })),
});

/** The newest reading of a quantity. */
export const lastOf = ({ readings }: SystemBook, code: Code): Entry | undefined =>
  readings.findLast((one) => one.code === code);
