/** Which grouping explains who is affected, and whether chance would do as much. */
export {
  bernoulliLogRatio,
  type Cluster,
  type Member,
  type Scan,
  type ScanOptions,
  scanGroups,
} from './scan/bernoulli.ts';
export { type ExactP, exactTest, type Split } from './scan/exact.ts';
