import type { ChosenUnits } from './units/units.ts';

/** The site that a request is about. */
export interface CurrentSite {
  id: string;
  name: string;
  timeZone: string;
  /** ISO 4217 code its prices are in; null until somebody chose one. */
  currency: string | null;
  /** In which units who chose none reads and types. */
  units: ChosenUnits;
  /** The farm has no other. */
  isOnlyOne: boolean;
  /** The person belongs to others too. */
  mayLeave: boolean;
}
