import { numberWords } from '../../platform/words/numbers.ts';
import type { Exposure } from './exposure.ts';

/** "142 ± 12 µmol/(m² s), 5.1 mol/m² a day"; says so when it is scaled rather than measured. */
export function lightWords({ par, error, dli, estimated }: Exposure): string {
  const spread = error >= 0.5 ? ` ± ${numberWords(error, 0)}` : '';
  const sure = estimated ? ', estimated' : '';
  return `${numberWords(par, 0)}${spread} µmol/(m² s), ${dailyWords(dli)}${sure}`;
}

/** "5.1 mol/m² a day". */
export function dailyWords(dli: number): string {
  return `${numberWords(dli, 1)} mol/m² a day`;
}
