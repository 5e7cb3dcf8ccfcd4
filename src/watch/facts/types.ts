import type { ConditionState, Trust } from '../../generated/prisma/enums.ts';

// Facts are plain data: times as days since 1970 (`day`) beside ISO text (`at`) for people, values in canonical units.

/** How a quantity is written by this farm. */
export interface QuantityFact {
  code: string;
  name: string;
  canonicalUnit: string;
  displayUnit: string;
  decimals: number;
}

/** A standing reading (neither voided nor refuted). */
export interface ReadingFact {
  id: string;
  systemId: string;
  day: number;
  at: string;
  value: number;
  below: boolean;
  /** Standard uncertainty of the test. */
  u: number;
  /** Step between neighbouring fields of a chart or drops; null where there is none. */
  step: number | null;
  trust: Trust;
  kitId: string | null;
}

/** What a system keeps of one quantity. */
export interface KeptFact {
  bandLow: number | null;
  bandHigh: number | null;
  limitHigh: number | null;
  makeUp: number | null;
  source: string;
}

export interface ChangeFact {
  id: string;
  day: number;
  at: string;
  volumeL: number;
  /** Part of the system's water. */
  fraction: number;
}

export interface DoseFact {
  id: string;
  day: number;
  quantityCode: string;
  /** Rise of the level. */
  rise: number;
}

/** A kit in use, with all that hints at its bias. It belongs to the system in which it was first used. */
export interface KitFact {
  id: string;
  label: string;
  quantityCode: string;
  openedDay: number;
  openedAt: string;
  checks: { id: string; day: number; at: string; standard: number; value: number; u: number }[];
  /** Readings of its quantity, by any kit, in every system it is used in. */
  systems: { systemId: string; name: string; firstDay: number; readings: ReadingFact[] }[];
}

export interface ConditionFact {
  id: string;
  day: number;
  at: string;
  state: ConditionState;
  grade: number | null;
  note: string;
}

/** A piece of constant light a lot lived in, umol/(m2 s) at full light and mol/(m2 d). */
export interface LightFact {
  fromDay: number;
  par: number;
  dli: number;
  error: number;
  estimated: boolean;
}

/** What the light figures of a lot's care are, and where each comes from. */
interface LightCare {
  ceiling: { par: number; source: string } | null;
  stepRatio: { ratio: number; source: string } | null;
  adaptationDays: { days: number; source: string } | null;
}

export interface LotFact {
  id: string;
  code: string;
  pieces: number;
  kindName: string;
  /** The kind and what it stands under, nearest first: settings inherit along it. */
  kindIds: string[];
  /** Where it stands: "N3, B4" and the lamps above, if any. */
  place: string;
  placementId: string;
  placedAt: string;
  placedDay: number;
  lampId: string | null;
  light: LightFact[];
  care: LightCare;
  /** Newest first. */
  conditions: ConditionFact[];
}

export interface LampFact {
  id: string;
  name: string;
  tankName: string;
  /** Oldest first. */
  settings: { id: string; day: number; at: string; percent: number; note: string }[];
}

/** All that the rules know of one system. */
export interface SystemFacts {
  systemId: string;
  siteId: string;
  name: string;
  timeZone: string;
  volumeL: number;
  retired: boolean;
  quantities: ReadonlyMap<string, QuantityFact>;
  kept: ReadonlyMap<string, KeptFact>;
  /** Oldest first, by quantity. */
  readings: ReadonlyMap<string, readonly ReadingFact[]>;
  changes: readonly ChangeFact[];
  doses: readonly DoseFact[];
  /** Kits that belong to this system, and those of others that read its water. */
  kits: readonly KitFact[];
  visitingKits: readonly KitFact[];
  lots: readonly LotFact[];
  lamps: readonly LampFact[];
}

const DAY_MS = 86_400_000;

/** Days since 1970, with the time of day as a fraction. */
export const dayOf = (at: Date): number => at.getTime() / DAY_MS;

/** The moment of such a day. */
export const momentOfDay = (day: number): Date => new Date(Math.round(day * DAY_MS));
