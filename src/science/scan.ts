/** Which grouping explains who is affected, and whether chance would do as much. */
export {
  bernoulliLogRatio,
  type Cluster,
  type Member,
  type Scan,
  scanGroups,
} from './scan/bernoulli.ts';
export { exactTest } from './scan/exact.ts';
