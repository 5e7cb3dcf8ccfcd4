import type { BottleResult } from './bottle-job.ts';
import type { CalmResult } from './calm-job.ts';
import type { Delays } from './counting.ts';
import type { CutResult } from './cut-job.ts';
import type { KitResult } from './kit-job.ts';
import type { LightResult } from './light-job.ts';
import type { Result } from './pool.ts';
import type { WaterResult } from './water-job.ts';

const days = (delay: number) => (Number.isFinite(delay) ? delay.toFixed(0) : 'never');
const percent = (share: number) => `${Math.round(100 * share)} %`;

const row = (cells: readonly string[], widths: readonly number[]) =>
  cells
    .map((cell, i) => (i === 0 ? cell.padEnd(widths[i] ?? 0) : cell.padStart(widths[i] ?? 0)))
    .join('  ')
    .trimEnd();

const waterWidths = [52, 8, 8, 8, 10, 6, 8];

/** Monte Carlo error of a rate of rare alerts, one standard deviation. */
const rateError = (rate: number, years: number) => Math.sqrt(Math.max(rate, 1 / years) / years).toFixed(2);

function waterLines(result: WaterResult): string[] {
  const { job, rate, steadyRate, open, years, rivals } = result;
  const calm = `false alerts ${rate.toFixed(2)} ± ${rateError(rate, years)} a system-year (aim at most ${job.rateAim}${verdict(rate <= job.rateAim)})${job.openAim === undefined ? '' : `, ${steadyRate.toFixed(2)} of them in water about as steady as usual`}, open on ${(100 * open).toFixed(1)} % of days${job.openAim === undefined ? '' : ` (aim at most ${percent(job.openAim)}${verdict(open <= job.openAim)})`}, ${years.toFixed(0)} system-years`;
  const told = (name: string, { found, median, p90 }: Delays, falsely: number, aim = '', study = '') =>
    row([name, percent(found), days(median), days(p90), falsely.toFixed(2), aim, study], waterWidths);
  return [
    '',
    job.heading,
    `  ${calm}`,
    row(['', `by ${job.within} d`, 'median', '90 %', 'false/yr', 'aim', 'study'], waterWidths),
    ...result.troubles.flatMap(({ trouble, rule, both, rivals: theirs }) => [
      told(
        `  ${trouble.name}: the rule${trouble.aim === undefined ? '' : verdict(rule.median <= trouble.aim)}${shareWords(trouble.shareAim, rule.found)}${both > 0 ? `; names a swing too in ${percent(both)}` : ''}`,
        rule,
        rate,
        trouble.aim?.toString(),
        trouble.study,
      ),
      ...theirs.map((delays, i) =>
        told(`    ${rivals[i]?.name ?? ''}`, delays, rivals[i]?.rate ?? Number.NaN),
      ),
    ]),
  ];
}

/** "; aim 80 %, MISSED": of those told within the row's days. */
const shareWords = (aim: number | undefined, found: number) =>
  aim === undefined ? '' : `; aim ${percent(aim)}${verdict(found >= aim)}`;

const verdict = (reached: boolean) => (reached ? '' : ', MISSED');

const kitWidths = [54, 6, 12, 12, 12, 12, 12, 28];

function kitLines(results: readonly KitResult[]): string[] {
  if (results.length === 0) return [];
  const pairs = Map.groupBy(results, ({ job }) => job.heading);
  return [
    '',
    'Kits in moving water: suspected (5 %) or named (1 %) without bias / when 10 % low, at the last look and at any look up to it',
    row(['', 'by day', 'suspected', 'ever', 'named', 'ever', 'cannot tell', 'aim'], kitWidths),
    ...[...pairs].map(([heading, both]) => row([`  ${heading}`, ...kitCells(both)], kitWidths)),
  ];
}

const aimWords = { suspected: 'suspected', named: 'named', cannotTell: 'cannot tell' };

function kitCells(both: readonly KitResult[]): string[] {
  const low = both.find(({ job }) => job.bias < 0);
  const none = both.find(({ job }) => job.bias === 0);
  if (low === undefined || none === undefined) return [];
  const { by, aim } = low.job;
  const shares: Record<typeof aim.of, number> = {
    suspected: low.suspected.last,
    named: low.named.last,
    cannotTell: low.cannotTell,
  };
  const two = (of: (one: KitResult) => number) => `${Math.round(100 * of(none))} / ${percent(of(low))}`;
  return [
    `${by}`,
    two(({ suspected }) => suspected.last),
    two(({ suspected }) => suspected.ever),
    two(({ named }) => named.last),
    two(({ named }) => named.ever),
    two(({ cannotTell }) => cannotTell),
    `${aimWords[aim.of]} ${percent(aim.share)}${verdict(shares[aim.of] >= aim.share)}`,
  ];
}

function lightLines(results: readonly LightResult[]): string[] {
  if (results.length === 0) return [];
  return [
    '',
    'Light step: lots moved at once, kind bears 1.5 times, surveys good to 10 %; alert at the move',
    ...results.map(
      ({ job, found, foundLamps }) =>
        `  ${job.ratio.toFixed(1)} times what it is used to: ${percent(found)} of lots moved, ${percent(foundLamps)} of racks of 8 under lamps turned up`,
    ),
  ];
}

/** The parts as one. */
function calmLines(parts: readonly CalmResult[]): string[] {
  const [first] = parts;
  if (first === undefined) return [];
  const years = parts.reduce((sum, part) => sum + part.years, 0);
  const byRule = Map.groupBy(
    parts.flatMap((part) =>
      part.rates.map(({ rule, rate, without, daysOpen }) => ({
        rule,
        rate: (rate * part.years) / years,
        without: (without * part.years) / years,
        daysOpen: (daysOpen * part.years) / years,
      })),
    ),
    ({ rule }) => rule,
  );
  const rates = [...byRule].map(([rule, all]) => ({
    rule,
    rate: all.reduce((sum, one) => sum + one.rate, 0),
    without: all.reduce((sum, one) => sum + one.without, 0),
    daysOpen: all.reduce((sum, one) => sum + one.daysOpen, 0),
  }));
  const total = rates.reduce((sum, { rate, without }) => sum + rate - without, 0);
  const counted = rates.reduce((sum, { rate, without }) => sum + rate + without, 0);
  const { heading, rateAim, trouble } = first.job;
  const both = parts.reduce((sum, { falls }) => sum + falls.both, 0);
  const all = both + parts.reduce((sum, { falls }) => sum + falls.alone, 0);
  const what = trouble === undefined ? 'false alerts' : 'alerts that name a wrong cause';
  return [
    '',
    `${heading}: ${total.toFixed(2)} ± ${rateError(counted, years)} ${what} a system-year (aim at most ${rateAim}${verdict(total <= rateAim)}), ${years.toFixed(0)} system-years`,
    ...rates
      .sort((a, b) => b.rate - a.rate)
      .map(
        ({ rule, rate, without, daysOpen }) =>
          `  ${rule}: ${rate.toFixed(2)}${trouble === undefined ? '' : ` (the same water without the trouble ${without.toFixed(2)})`}, open ${daysOpen.toFixed(1)} days a year`,
      ),
    ...(all === 0 ? [] : [`  ${both} of ${all} alerts on falling alkalinity name a swing beside it`]),
  ];
}

const bottleLines = (results: readonly BottleResult[]): string[] =>
  results.flatMap(({ job, bottles, named, told }) => [
    '',
    `${job.heading}: ${(100 * named).toFixed(1)} % of ${bottles} named (aim at most ${percent(job.aim)}${verdict(named <= job.aim)}), ${(100 * told).toFixed(1)} % named, suspected or told to differ`,
  ]);

const cutLines = (results: readonly CutResult[]): string[] =>
  results.flatMap(({ job, falsely, cuts, bad, shows, told, median }) => [
    '',
    `${job.heading}: ${falsely.toFixed(2)} of ${cuts.toFixed(0)} good cuts told a system-year, ${job.years} system-years`,
    `  of ${bad} bad cuts two lots or more lose flesh in ${percent(shows)}; of those ${percent(told)} told within three weeks, in the median ${days(median)} days after the cut`,
  ]);

/** Rows of one world, as soon as it ends; a part of a table that is printed at the end has none. */
export const worldLines = (result: Result): string =>
  result.kind === 'water' ? `${waterLines(result).join('\n')}\n` : '';

/** What needs several worlds, once all have ended. */
export function lastLines(results: readonly Result[]): string {
  const waters = results.filter((one) => one.kind === 'water');
  const sum = (of: (one: WaterResult) => number) => waters.reduce((total, one) => total + of(one), 0);
  return [
    ...kitLines(results.filter((one) => one.kind === 'kit')),
    ...bottleLines(results.filter((one) => one.kind === 'bottles')),
    ...cutLines(results.filter((one) => one.kind === 'cuts')),
    ...lightLines(results.filter((one) => one.kind === 'light')),
    ...[
      ...Map.groupBy(
        results.filter((one) => one.kind === 'calm'),
        ({ job }) => job.heading,
      ).values(),
    ].flatMap(calmLines),
    '',
    `The rules were asked at ${sum(({ asked }) => asked)} readings near an alert, and at ${sum(({ checked }) => checked)} of the others, where they fired at ${sum(({ missed }) => missed)}.`,
  ].join('\n');
}
