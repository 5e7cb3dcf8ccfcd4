import type { EventKind, Trust } from '../../generated/prisma/enums.ts';

// Plain data: times as days since 1970 (`day`) beside ISO text (`at`) for people, values in canonical units.

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
  /** Beyond the scale: the value is the least that it can be. */
  above?: boolean;
  methodId?: string | null;
  /** By an instrument that stays in the water. */
  probe?: boolean;
  kitId: string | null;
  /** Who measures: '' for the farm's own tests and probes, else the laboratory; lines of two hands are never joined. */
  hand: string;
  /** How far its bottle may be off the one before, where the two differ and nobody knows which is wrong; canonical. */
  stepU?: number;
  /** When it was written down, told only where the past is judged; what a file brought counts from its own time. */
  knownDay?: number;
}

/** A probe that has not used until it is checked: what it shows from `sinceDay` on counts for nothing. */
export interface DoubtedSource {
  code: string;
  methodId: string;
  kitId: string | null;
  sinceDay: number;
}

/** What a system keeps of one quantity. */
export interface KeptFact {
  bandLow: number | null;
  bandHigh: number | null;
  limitHigh: number | null;
  makeUp: number | null;
  /** Where it comes from; of a starting band it says that nobody chose it. */
  source: string;
  /** The band was proposed when the system was set up, and nobody has confirmed it. */
  starting?: boolean;
}

export interface ChangeFact {
  id: string;
  day: number;
  at: string;
  volumeL: number;
  /** Part of the system's water. */
  fraction: number;
  /** What the new water held, by quantity, where it was not the usual make-up water. */
  makeUp?: Readonly<Record<string, number>> | null;
  /** A step of a correction: it tells nothing of the habit. */
  once?: boolean;
}

export interface DoseFact {
  id: string;
  day: number;
  at: string;
  substance: string;
  /** What it raises, and by how much; null where that is not known. */
  quantityCode: string | null;
  rise: number | null;
  /** What was unusual about it when it was logged, a sentence each. */
  concerns?: readonly string[];
  /** Why it was right all the same, as its person wrote; "" of an instrument's. */
  reason?: string;
  byInstrument?: boolean;
  /** The doser whose container tells what went in. */
  doserId?: string | null;
}

/** Something after which a water is used otherwise than before. */
export interface EventFact {
  id: string;
  day: number;
  at: string;
  kind: EventKind;
  note: string;
}

/** The mean temperature of one local day (`day`: whole days since 1970 of the local date), canonical unit. */
export interface TemperatureFact {
  day: number;
  mean: number;
  /** What the mean is made of, by instrument. */
  sources?: readonly { methodId: string | null; kitId: string | null; mean: number; readings: number }[];
}

/** Part of the pieces that stood in the system, sold or lost on a day: what they used goes with them. */
export interface LeftFact {
  day: number;
  share: number;
}

/** Two looks into a doser's container, and what went out between them over what its doses of those days were told. */
export interface LookedFact {
  doserId: string;
  quantityCode: string;
  fromDay: number;
  toDay: number;
  factor: number;
}
