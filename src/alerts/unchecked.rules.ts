import type { Finding, Severity } from './finding.ts';

/** How a source says that nobody has checked its figure. */
const mark = /\bfrom memory\b/i;

/** Whether a figure is only remembered, by its source. */
export const isUnchecked = (source: string): boolean => mark.test(source);

/** The source of a figure that its farm or the library only remembers, in words by which it is known as such. */
export const rememberedSource = (source: string): string =>
  isUnchecked(source) ? source : `from memory, not checked: ${source}`;

/** The urgency of a finding that comes of one figure alone: a watch at most where the figure is from memory. */
export const urgencyBySource = (severity: Severity, source: string): Severity =>
  isUnchecked(source) ? 'watch' : severity;

/**
 * A finding whose limit nobody has checked is a watch at most and says so. What a person saw on the animals is urgent
 * whatever the limit: such a finding stays as it is.
 */
export function boundByItsLimit(finding: Finding): Finding {
  const { limit, evidence, figures } = finding;
  if (!isUnchecked(limit.source)) return finding;
  if (evidence.some(({ kind }) => kind === 'condition')) return finding;
  const said = { label: 'Told as a watch', text: 'its limit is from memory and was not checked' };
  return { ...finding, severity: 'watch', figures: [said, ...figures] };
}
