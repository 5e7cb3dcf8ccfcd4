import type { Quantity } from '../quantities/quantities.ts';
import type { StoppedThing } from './stopped.rules.ts';

/** One reading as the rules of trust see it; canonical unit. */
export interface MeasuredReading {
  at: Date;
  value: number;
  below: boolean;
  /** Beyond what the test can show: the least that it can be. */
  above?: boolean;
  uncertainty: number;
  kitId: string | null;
  methodId: string | null;
  /** When its kit was opened; null (or left out) where no kit is named. */
  kitOpenedAt?: Date | null;
  /** By an instrument that stays in the water. */
  probe?: boolean;
}

/** A reading that is in the database already. */
export interface StoredReading extends MeasuredReading {
  id: string;
  /** A second reading agreed with it. */
  confirmed?: boolean;
}

/** The band a system keeps, canonical; `starting` where nobody has chosen or confirmed it. */
export interface KeptBand {
  low: number | null;
  high: number | null;
  starting?: boolean;
}

/** A probe whose values count for nothing until it is checked, and why, to go on after its name. */
export interface DoubtedProbe {
  methodId: string;
  kitId: string | null;
  label: string;
  words: string;
}

/** What is known of one quantity in one system at the time of a reading. */
export interface TrustContext {
  quantity: Quantity;
  band: KeptBand;
  /** Trusted readings before it, oldest first. */
  past: readonly StoredReading[];
  /** Unconfirmed readings before it, oldest first. */
  pending: readonly StoredReading[];
  /** Readings after it, where it was entered late; oldest first. */
  later: readonly StoredReading[];
  /** The probes that have no vote until they are checked. */
  doubted?: readonly DoubtedProbe[];
  /** What stood still lately. */
  stopped?: readonly StoppedThing[];
  /** By how much what was logged since the last reading would move the level (water changes, unusual and missing doses); canonical. */
  expectedChange: number;
}
