import type { Hands } from '../hands/hands.ts';

/** Who says what is done, with the same hands. */
export interface Policy {
  /** In the morning, once the day's routine is done. */
  morning(): void;
  /** A short second visit on weekdays. */
  evening(): void;
  /** Each hour while somebody is there, where it can call. */
  hourly?(): void;
  /** Alerts that came before people (those that another explains are told with it), and those of them that were false. */
  readonly told: { alerts: number; wrong: number; byRule: Map<string, { alerts: number; wrong: number }> };
}

export type MakePolicy = (hands: Hands, from: number) => Policy;

/** Nobody looks, nobody tests; what is due once a week and once a month is done. */
export const noWatch: MakePolicy = () => ({
  morning: () => {},
  evening: () => {},
  told: { alerts: 0, wrong: 0, byRule: new Map() },
});
