/** How many cut pieces survive, and whether batches, methods or hands differ. */
export {
  type Followed,
  kaplanMeier,
  type Survival,
  survivalAt,
} from './survival/kaplan-meier.ts';
export { logRank } from './survival/log-rank.ts';
export { lossScores } from './survival/loss-scores.ts';
