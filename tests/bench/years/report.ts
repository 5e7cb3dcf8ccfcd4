import { seededRandom } from '../../../src/science/statistics/random.ts';
import type { Counts } from './farm/farm.ts';
import { type PolicyName, policyNames, proposed, systemsAFarm, type YearResult } from './run.ts';

/** One farm-year under all policies; the service with its own tests only where it was lived. */
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
    ...advisers.flatMap((name) => [...hourLines(years, name), '']),
    ...kindLines(years),
    '',
  ].join('\n');
}

/** The service with tests as it proposes, as a policy of its own beside the others of the same farm-years, and the difference. */
export function proposedLines(years: readonly Year[], lived: readonly Partial<Year>[]): string {
  const both = lived.flatMap((one) => {
    const whole = years.find(({ seed }) => seed === one.seed);
    return whole === undefined ? [] : [{ ...whole, ...one } as Year];
  });
  if (both.length === 0) return '';
  const names = ['simple watches', 'the service', proposed] as const;
  const inItsPlace = both.map(({ seed, [proposed]: own }) => ({ seed, 'the service': own }));
  return [
    `The first ${both.length} of these farm-years, lived also by the service with tests as often as it proposes:`,
    ...names.map((name) => policyLine(both, name)),
    ...names.map((name) => `  ${name}: pieces lost ${shareWords(both, name, 'lost')} of the preventable`),
    ...alertLines(both, proposed),
    ...hourLines(both, proposed),
    othersLine(both, inItsPlace, 'with tests as it proposes'),
  ].join('\n');
}

function policyLine(years: readonly Year[], name: PolicyName): string {
  const counts = measures.map(([of, words]) => {
    const days = of === 'unsaleable' ? 365 : 1;
    return `${words} ${(mean(years, (year) => year[name].counts[of]) / days).toFixed(1)}`;
  });
  const hours = mean(years, (year) => year[name].hours);
  return `  ${name.padEnd(17)} ${counts.join(', ')}; ${hours.toFixed(0)} hours of tests, looks and setting right`;
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

/** Where the hours of a farm-year go: by what they were for, and by deed; the largest first. */
function hourLines(years: readonly Year[], name: PolicyName): string[] {
  const sums = [new Map<string, number>(), new Map<string, number>()] as const;
  for (const year of years)
    for (const [what, minutes] of year[name].spent)
      for (const [i, part] of what.split(': ').entries())
        sums[i]?.set(part, (sums[i]?.get(part) ?? 0) + minutes / 60 / years.length);
  const words = (sum: ReadonlyMap<string, number>) =>
    [...sum]
      .sort((a, b) => b[1] - a[1])
      .filter(([, hours]) => hours >= 0.5)
      .map(([part, hours]) => `${part} ${hours.toFixed(1)}`)
      .join(', ');
  return [`Hours of ${name}, by what they were for: ${words(sums[0])}`, `  by deed: ${words(sums[1])}`];
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
    `  ${'cause'.padEnd(28)}${'a year'.padStart(8)}${policyNames.map((name) => name.padStart(18)).join('')}`,
    ...rows.map(
      ({ cause, by }) =>
        `  ${cause.padEnd(28)}${began(cause).toFixed(2).padStart(8)}${by.map((n) => n.toFixed(2).padStart(18)).join('')}`,
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

/** The service otherwise beside the service as it is, over the farm-years that were lived with both, with 95 % intervals of the difference. */
export function othersLine(years: readonly Year[], others: readonly Partial<Year>[], words: string): string {
  const pairs = others.flatMap((one) => {
    const whole = years.find(({ seed }) => seed === one.seed);
    return whole === undefined ? [] : [{ whole, other: { ...whole, ...one } as Year }];
  });
  const off = (drawn: typeof pairs, of: (year: Year) => number) =>
    drawn.reduce((sum, { whole, other }) => sum + of(other) - of(whole), 0) / drawn.length;
  const saidWith = (of: (year: Year) => number, decimals: number) => {
    const random = seededRandom(pairs.length);
    const drawn = Array.from({ length: resamples }, () =>
      off(
        pairs.map(() => pairs[random.below(pairs.length)] as (typeof pairs)[number]),
        of,
      ),
    ).sort((a, b) => a - b);
    const [low, high] = [0.025, 0.975].map((part) =>
      (drawn[Math.floor(part * resamples)] ?? 0).toFixed(decimals),
    );
    return `${off(pairs, of).toFixed(decimals)} (${low} to ${high})`;
  };
  if (pairs.length === 0) return `The service ${words}: no farm-year was lived so.\n`;
  const share = (all: readonly Year[]) => `${(100 * shareOf(all, 'the service', 'lost')).toFixed(1)} %`;
  const tests = ({ 'the service': { spent } }: Year) =>
    spent.reduce((sum, [what, minutes]) => sum + (/: test /.test(what) ? minutes : 0), 0) / 60;
  return [
    `The service ${words}, ${pairs.length} farm-years: ${share(pairs.map(({ other }) => other))} of the preventable losses prevented, ${share(pairs.map(({ whole }) => whole))} as it is;`,
    `  more a farm-year: pieces lost ${saidWith((year) => year['the service'].counts.lost, 1)}, paled ${saidWith((year) => year['the service'].counts.paled, 1)},`,
    `  hours ${saidWith((year) => year['the service'].hours, 1)}, of them on tests ${saidWith(tests, 1)}, false alerts a system-year ${saidWith((year) => year['the service'].wrong / systemsAFarm, 2)}`,
    '',
  ].join('\n');
}
