import type { Finding } from '../../../alerts/finding.ts';
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

/** The figure of a finding that says which tests are still wanted. */
const wantedLabel = 'Still to test';
export const wantedFigure = (codes: readonly string[]) => ({ label: wantedLabel, text: testsWords(codes) });

/** The codes that a finding still wanted; those of a filter without flow where it does not say. */
function wantedBy({ figures }: Pick<Finding, 'figures'>): readonly string[] {
  const text = figures.find(({ label }) => label === wantedLabel)?.text;
  if (text === undefined) return afterPumps.codes;
  const all = new Set([...afterPower.codes, ...afterDeath.codes]);
  return [...all].filter((code) => text.includes(testsWords([code])));
}

/** How the tests that a finding wanted ended: which were read after a moment and when first, and which were not. */
export function testedAfterwards(
  facts: SystemFacts,
  finding: Pick<Finding, 'figures'>,
  since: Date,
  timeWords: (at: string) => string,
): string {
  const wanted = wantedBy(finding);
  const read = wanted.flatMap((code) => {
    const first = facts.readings.get(code)?.find(({ at }) => Date.parse(at) > since.getTime());
    return first === undefined ? [] : [{ code, at: first.at }];
  });
  const missing = wanted.filter((code) => read.every((one) => one.code !== code));
  const [first] = read.toSorted((a, b) => Date.parse(a.at) - Date.parse(b.at));
  const were = (codes: readonly string[]) => `${testsWords(codes)} ${codes.length === 1 ? 'was' : 'were'}`;
  const passed = `the days for it have passed; ${were(missing)} not tested`;
  if (first === undefined) return passed;
  const tested = `${were(read.map(({ code }) => code))} tested ${timeWords(first.at)}`;
  return missing.length === 0 ? tested : `${passed}, ${tested}`;
}
