import { seededRandom } from '../../../src/science/statistics/random.ts';
import type { Counts } from './farm/farm.ts';
import { type PolicyName, policyNames, systemsAFarm, type YearResult } from './run.ts';

/** One farm-year under all policies. */
export type Year = Readonly<Record<PolicyName, YearResult>> & { seed: number };

const measures = [
  ['lost', 'pieces lost'],
  ['paled', 'paled once'],
  ['unsaleable', 'unsaleable on a day'],
] as const;

const advisers: readonly PolicyName[] = ['simple watches', 'the service'];
const resamples = 2000;

/** Share of what the clairvoyant prevents: (none - policy) / (none - clairvoyant), over these farm-years. */
export function shareOf(years: readonly Year[], policy: PolicyName, of: keyof Counts): number {
  const sum = (name: PolicyName) => years.reduce((all, year) => all + year[name].counts[of], 0);
  return (sum('no watch') - sum(policy)) / (sum('no watch') - sum('clairvoyant'));
}

/** The share with its 95 % interval: farm-years are drawn anew, all policies of one seed together. */
function shareWords(years: readonly Year[], policy: PolicyName, of: keyof Counts): string {
  const random = seededRandom(years.length);
  const drawn = Array.from({ length: resamples }, () =>
    shareOf(
      years.map(() => years[random.below(years.length)] as Year),
      policy,
      of,
    ),
  ).sort((a, b) => a - b);
  const [low, high] = [0.025, 0.975].map((part) => drawn[Math.floor(part * resamples)] ?? Number.NaN);
  return `${percent(shareOf(years, policy, of))} (${percent(low ?? 0)} to ${percent(high ?? 0)})`;
}

const percent = (share: number) => `${(100 * share).toFixed(0)} %`;
const mean = (years: readonly Year[], of: (year: Year) => number) =>
  years.reduce((sum, year) => sum + of(year), 0) / years.length;

/** All that is printed of a whole report. */
export function reportLines(years: readonly Year[]): string {
  return [
    `${years.length} farm-years of ${systemsAFarm} systems and ${years[0]?.['no watch'].pieces ?? 0} pieces each; the mean of a farm-year.`,
    ...policyNames.map((name) => policyLine(years, name)),
    '',
    'Share of the preventable losses prevented, (none - policy) / (none - clairvoyant), with 95 % intervals:',
    ...advisers.map(
      (name) =>
        `  ${name}: ${measures.map(([of, words]) => `${words} ${shareWords(years, name, of)}`).join('; ')}`,
    ),
    '',
    ...advisers.flatMap((name) => [...alertLines(years, name), '']),
    ...kindLines(years),
    '',
  ].join('\n');
}

function policyLine(years: readonly Year[], name: PolicyName): string {
  const counts = measures.map(([of, words]) => {
    const days = of === 'unsaleable' ? 365 : 1;
    return `${words} ${(mean(years, (year) => year[name].counts[of]) / days).toFixed(1)}`;
  });
  const hours = mean(years, (year) => year[name].hours);
  return `  ${name.padEnd(15)} ${counts.join(', ')}; ${hours.toFixed(0)} hours of tests, looks and setting right`;
}

function alertLines(years: readonly Year[], name: PolicyName): string[] {
  const systemYears = years.length * systemsAFarm;
  const byRule = new Map<string, { alerts: number; wrong: number }>();
  for (const year of years)
    for (const [rule, { alerts, wrong }] of year[name].byRule) {
      const sum = byRule.get(rule) ?? { alerts: 0, wrong: 0 };
      byRule.set(rule, { alerts: sum.alerts + alerts, wrong: sum.wrong + wrong });
    }
  const rate = (n: number) => (n / systemYears).toFixed(2);
  const all = [...byRule].sort((a, b) => b[1].wrong - a[1].wrong || b[1].alerts - a[1].alerts);
  const total = (of: 'alerts' | 'wrong') => all.reduce((sum, [, count]) => sum + count[of], 0);
  return [
    `Alerts of ${name}: ${(total('alerts') / (years.length * 365)).toFixed(2)} a day and farm, ${rate(total('alerts'))} a system-year, false ${rate(total('wrong'))}.`,
    `  by rule, a system-year, false ones in brackets: ${all.map(([rule, { alerts, wrong }]) => `${rule} ${rate(alerts)} (${rate(wrong)})`).join(', ')}`,
  ];
}

/** By what the pieces died of, the worst under the service first. */
function kindLines(years: readonly Year[]): string[] {
  const causes = new Set(
    years.flatMap((year) => policyNames.flatMap((name) => year[name].blamed.map(([cause]) => cause))),
  );
  const lost = (cause: string, name: PolicyName) =>
    mean(years, (year) => year[name].blamed.find(([one]) => one === cause)?.[1].lost ?? 0);
  const began = (cause: string) =>
    mean(years, (year) => year['no watch'].troubles.filter(({ kind }) => kind === cause).length);
  const rows = [...causes].map((cause) => ({ cause, by: policyNames.map((name) => lost(cause, name)) }));
  rows.sort((a, b) => (b.by[2] ?? 0) - (a.by[2] ?? 0) || (b.by[0] ?? 0) - (a.by[0] ?? 0));
  return [
    'Pieces lost a farm-year by cause, the worst under the service first:',
    `  ${'cause'.padEnd(28)}${'a year'.padStart(8)}${policyNames.map((name) => name.padStart(16)).join('')}`,
    ...rows.map(
      ({ cause, by }) =>
        `  ${cause.padEnd(28)}${began(cause).toFixed(2).padStart(8)}${by.map((n) => n.toFixed(2).padStart(16)).join('')}`,
    ),
  ];
}

/** The farm-years in which the service lost the most against the clairvoyant: each by another cause, to be told as stories. */
export function worthTelling(years: readonly Year[], count: number): { year: Year; cause: string }[] {
  const told: { year: Year; cause: string; lost: number }[] = years.flatMap((year) =>
    year['the service'].blamed.flatMap(([cause, { lost, paled }]) =>
      cause === 'no trouble' || cause.endsWith('by itself') ? [] : [{ year, cause, lost: lost + paled / 10 }],
    ),
  );
  const worst = told.sort((a, b) => b.lost - a.lost);
  return worst.filter(({ cause }, i) => worst.findIndex((one) => one.cause === cause) === i).slice(0, count);
}
