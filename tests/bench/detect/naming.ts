import type { Finding } from '../../../src/alerts/finding.ts';

/**
 * Whether an alert on falling alkalinity names a swing beside the fall, by the words that people read, and raises no dose, which would
 * be right for one of them alone.
 */
export const namesBoth = ({ rule, title, advice }: Finding): boolean =>
  rule === 'alkalinity-falling' &&
  /falls or swings|swings and may fall/.test(title) &&
  !advice.some(({ acts }) => acts.some(({ lever, direction }) => lever === 'dose' && direction === 'up'));
