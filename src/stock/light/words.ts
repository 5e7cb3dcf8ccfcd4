import type { Figure } from '../../platform/words/figures.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { type AccustomedLight, whyNotAccustomed } from './accustomed.rules.ts';
import type { Exposure } from './exposure.ts';

/** "142 ± 12 µmol/(m² s), 5.1 mol/m² a day"; says so when it is scaled rather than measured, or how long lamps are lit is not known. */
export function lightWords({ par, error, dli, estimated, hoursKnown }: Exposure): string {
  const spread = error >= 0.5 ? ` ± ${numberWords(error, 0)}` : '';
  const sure = estimated ? ', estimated' : '';
  const daily = hoursKnown ? `, ${dailyWords(dli)}${sure}` : '; for how many hours is not known';
  return `${numberWords(par, 0)}${spread} µmol/(m² s)${daily}`;
}

/** "5.1 mol/m² a day". */
export function dailyWords(dli: number): string {
  return `${numberWords(dli, 1)} mol/m² a day`;
}

/** The light at a lot as every page says it. `of`: its id. */
export const lightFigure = (of: string, light: Exposure): Figure => ({
  ...{ name: 'lot.light', of, value: Math.round(light.par) },
  text: lightWords(light),
});

/** What a lot is used to, or why that is not known yet; `figure` null where it is not. */
export function accustomedWords(
  of: string,
  light: AccustomedLight,
  adaptationDays: number | null,
  now: Date,
): { text: string; figure: Figure | null } {
  const why = whyNotAccustomed(light, adaptationDays, now);
  const { accustomed } = light;
  if (why === 'no light' || accustomed === null) return { text: 'not known', figure: null };
  if (why === 'no hours')
    return { text: 'not known: for how many hours its lamps are lit is not written down', figure: null };
  if (why !== null)
    return {
      text: `not known yet: its light is known for ${plural(why.knownDays, 'day', 'days')}, it takes ${numberWords(why.needed)}`,
      figure: null,
    };
  const text = dailyWords(accustomed);
  return { text, figure: { name: 'lot.accustomed', of, value: numberWords(accustomed, 1), text } };
}
