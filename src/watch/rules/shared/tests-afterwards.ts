import { andWords } from '../../../platform/words/lists.ts';
import type { SystemFacts } from '../../facts/types.ts';

/** The tests afterwards: of what, and how many hours after it. Common practice. */
export interface Series {
  codes: readonly string[];
  hours: readonly number[];
}

/** What a filter without flow lets rise. */
export const afterPumps: Series = { codes: ['ammonia', 'nitrite'], hours: [0, 12, 24, 48] };
/** No heat, no doses and no movement besides. Oxygen only where it can be read. */
export const afterPower: Series = {
  codes: ['ammonia', 'nitrite', 'alkalinity', 'temperature', 'oxygen'],
  hours: [0, 12, 24, 48],
};
/** What rots; how much of the ammonia is poison goes by the pH. */
export const afterDeath: Series = { codes: ['ammonia', 'nitrite', 'ph'], hours: [0, 4, 12, 24, 48] };

/** Asked for only where it was ever read: few farms have a test for it. */
export const ifEverRead = new Set(['oxygen']);

/** Tests in a sentence: "ammonia, nitrite and pH". */
export const testsWords = (codes: readonly string[]): string =>
  andWords(codes.map((code) => (code === 'ph' ? 'pH' : code)));

/** What of the tests afterwards was read after a moment, in words and when first; null for none. */
export function testedAfterwards(facts: SystemFacts, since: Date): { words: string; at: string } | null {
  const codes = [...new Set([...afterPower.codes, ...afterDeath.codes])];
  const read = codes.flatMap((code) => {
    const last = facts.readings.get(code)?.at(-1);
    return last === undefined || Date.parse(last.at) <= since.getTime() ? [] : [{ code, at: last.at }];
  });
  const [first] = read;
  if (first === undefined) return null;
  return {
    words: `${testsWords(read.map(({ code }) => code))} ${read.length === 1 ? 'was' : 'were'} tested`,
    at: first.at,
  };
}
