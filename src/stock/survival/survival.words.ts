import { numberWords, plural } from '../../platform/words/numbers.ts';
import { GROUPINGS, type StandsOut } from './compare.rules.ts';

export const percent = (share: number): string => `${Math.round(share * 100)} %`;

/** "62 % (45 to 75)"; "not known" where too few were followed so long. */
export function shareWords(at: { survival: number; low: number | null; high: number | null } | null): string {
  if (at === null) return 'too few to say';
  const { survival, low, high } = at;
  if (low === null || high === null) return survival === 1 ? '100 %, none lost' : percent(survival);
  return `${percent(survival)} (${Math.round(low * 100)} to ${Math.round(high * 100)})`;
}

/** "1 of 200" of a chance, with the digits that are known. */
export function chanceWords(p: number): string {
  if (p > 0.095) return `${Math.round(p * 100)} of 100`;
  if (p < 1e-4) return 'fewer than 1 of 10,000';
  return `1 of ${numberWords(Number((1 / p).toPrecision(1)))}`;
}

/** What stands out, in sentences. */
export function standsOutWords({ by, name, cuts, lost, expected, p, same }: StandsOut): string {
  const others = same.map((one) => `${GROUPINGS[one.by].toLowerCase()} ${one.name}`).join(', ');
  return [
    `${GROUPINGS[by]} ${name}: ${plural(lost, 'piece', 'pieces')} lost of ${plural(cuts, 'cut', 'cuts')}, about ${Math.round(expected)} would be usual.`,
    `Chance alone gives as much in ${chanceWords(p)} tries.`,
    ...(others === '' ? [] : [`The same cuts also share: ${others}. Which of these it is cannot be known.`]),
  ].join(' ');
}

/** How often somebody looked before losses were found: within that time nobody knows when they died. */
export function gapWords(gaps: readonly number[]): string {
  if (gaps.length === 0) return '';
  const sorted = [...gaps].sort((a, b) => a - b);
  const middle = sorted[Math.floor((sorted.length - 1) / 2)] ?? 0;
  const longest = sorted.at(-1) ?? 0;
  return `A loss counts on the day it was found. Nobody had looked for ${plural(Math.round(middle), 'day', 'days')} before (middle of all), ${Math.round(longest)} at most: pieces may have died so much earlier.`;
}
