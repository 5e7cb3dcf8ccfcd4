/** Which grouping explains who is affected, and whether chance would do as much. */
export {
  bernoulliLogRatio,
  type Member,
  scanGroups,
} from './scan/bernoulli.ts';
export { exactTest } from './scan/exact.ts';
