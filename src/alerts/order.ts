import type { Finding } from './finding.ts';

/** Told of a system, and of some of its lots alone: what they share, what ails them, what is late. */
const notOfAllStock: readonly string[] = [
  'affected-share',
  'cut-batch',
  'losses-above-usual',
  'pest-in-water',
  'look-overdue',
];

/**
 * How much of the stock an urgent alert reaches, the most first: all that stands in a water, what stands on a rack or beneath
 * lamps, one lot. Of what can wait it says nothing.
 */
export function reachOf({ severity, subject, rule }: Pick<Finding, 'severity' | 'subject' | 'rule'>): number {
  if (severity !== 'now') return 0;
  if (ofWater.includes(subject.type) && !notOfAllStock.includes(rule)) return 0;
  return subject.type === 'lot' ? 2 : 1;
}

const ofWater: readonly string[] = ['system', 'tank'];

const quoted = (words: readonly string[]) => words.map((word) => `'${word}'`).join(', ');

/** SQL: {@link reachOf} of a row with an alert's columns. */
export const reachInSql = (of: string) => `CASE WHEN ${of}.severity <> 'now' THEN 0
  WHEN ${of}.subject_type::text IN (${quoted(ofWater)}) AND ${of}.rule NOT IN (${quoted(notOfAllStock)}) THEN 0
  WHEN ${of}.subject_type::text = 'lot' THEN 2 ELSE 1 END`;

/**
 * SQL: the order of alerts in every list of a farm, a system or a rack: the most urgent first, of those to act on now what reaches
 * all stock of a water, then how far each is beyond its own limit, then the oldest. `of` is a table or view with an alert's columns.
 */
export const worstFirst = (of: string) =>
  `${of}.severity, ${reachInSql(of)}, -${of}.score, ${of}.opened_at, ${of}.id`;
