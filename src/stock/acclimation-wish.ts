/** What is known of the light lots had before: how it is stored, and how people say it. */
export const RECEIVED = {
  here: 'known from the places on this farm',
  unknown: 'nobody knows it',
  stated: 'as the sender says',
  measured: 'measured at the sender’s',
} as const;
export type Received = keyof typeof RECEIVED;

/** How an acclimation is wished; PAR in umol/(m2 s), hours of full light a day. */
export interface Wish {
  siteId: string;
  name: string;
  reason: string;
  /** Local day of the first step, "2026-11-24". */
  startsOn: string;
  means: PlaceMeans | LampMeans;
}

/** From place to place in a system. */
export interface PlaceMeans {
  by: 'places';
  lotIds: readonly string[];
  /** The system in which places are sought; null: the one in which the lots stand. */
  systemId: string | null;
  purpose: 'light' | 'recovery';
  received: Received;
  /** Stated or measured light, or the low start where nobody knows; null: the dim end of their kinds. */
  fromPar: number | null;
  fromHours: number | null;
  /** A light to go to, or slots of one rack. */
  targetPar: number | null;
  targetSlotIds: readonly string[];
}

/** By turning lamps, for every lot beneath them but those that are moved away. */
export interface LampMeans {
  by: 'lamps';
  lampId: string;
  percent: number;
  without: readonly string[];
}
