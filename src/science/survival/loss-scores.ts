import { type Followed, lossTimes } from './kaplan-meier.ts';

/**
 * The log-rank score of each piece: 1 where it was lost, 0 where not, less the losses that a piece followed as long would
 * have met if all were alike (Nelson-Aalen). The scores of a group add up to its losses seen less those expected.
 *
 * Peto & Peto 1972; the martingale residual of Therneau, Grambsch & Fleming 1990 (from memory).
 */
export function lossScores(pieces: readonly Followed[]): number[] {
  const steps = lossTimes(pieces);
  return pieces.map(({ time, lost }) => {
    const met = steps.reduce((sum, step) => (step.time <= time ? sum + step.lost / step.atRisk : sum), 0);
    return (lost ? 1 : 0) - met;
  });
}
