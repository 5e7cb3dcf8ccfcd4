import { type ChosenBand, noBand } from '../../../water/acute/acute-states.rules.ts';
import type { SystemFacts } from '../../facts/types.ts';

/** The band of a quantity that somebody chose here. */
export function chosenBand({ kept }: Pick<SystemFacts, 'kept'>, code: string): ChosenBand {
  const own = kept.get(code);
  return own === undefined || own.starting === true ? noBand : { low: own.bandLow, high: own.bandHigh };
}
