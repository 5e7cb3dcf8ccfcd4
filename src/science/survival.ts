/** How many cut pieces survive, and whether batches, methods or hands differ. */
export {
  type Followed,
  kaplanMeier,
  type Survival,
  type SurvivalStep,
  survivalAt,
} from './survival/kaplan-meier.ts';
export { type LogRank, logRank } from './survival/log-rank.ts';
