import type { LiveLot } from './stock-book.ts';

/** Colonies are cut back before they stand in each other's way. */
const LARGEST_MM = 160;
/** Living surface over the disc that a piece covers, and mmol CaCO3 a day on a square metre of it. */
const BODY: Readonly<Record<string, readonly [surface: number, rate: number]>> = {
  // Rates: 101-274 mmol CaCO3/m2/d for two massive corals (Coral Reefs 33, 2014, 979); surface: own choice.
  'brain-corals': [1.6, 150],
  'fleshy-corals': [1.3, 110],
  'long-tentacled-corals': [2, 130],
  'plating-corals': [1.6, 150],
  'small-polyp-corals': [5, 200],
};

/** The size of a lot's pieces on a day, growing at the middle of what its kind grows. */
export function sizeOn(lot: LiveLot, day: number): number {
  const { low = 0, high = 0 } = lot.kind.care.growth_mm_year ?? {};
  // Half the middle of the range, at most 40 mm a year: pieces in a shop are cut back and crowded.
  const perYear = Math.min(40, (low + high) / 4);
  return Math.min(LARGEST_MM, lot.sizeMm + (perYear * Math.max(0, day - lot.day)) / 365);
}

/** Alkalinity that a lot takes up on a day, meq: two for each CaCO3. Soft corals lay down next to none. */
export function uptakeMeq(lot: LiveLot, day: number): number {
  const [surface, rate] = BODY[lot.kind.group] ?? [1, 0];
  const areaM2 = (Math.PI / 4) * (sizeOn(lot, day) / 1000) ** 2 * surface;
  return 2 * rate * areaM2 * lot.pieces;
}
