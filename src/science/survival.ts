/** How many cut pieces survive, and whether batches, methods or hands differ. */
export {
  type Followed,
  kaplanMeier,
  survivalAt,
} from './survival/kaplan-meier.ts';
export { logRank } from './survival/log-rank.ts';
