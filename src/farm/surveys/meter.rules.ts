import { underwaterParUmolM2S } from '../../science/light.ts';

/** How the meter shows light. `factorInMeter`: it already applies the factor of its sensor. */
export interface Meter {
  immersionFactor: number;
  factorInMeter: boolean;
}

/** Light under water from what a meter shows; the factor is applied once, here or in the meter. umol/(m2 s) */
export function correctedPar(raw: number, { immersionFactor, factorInMeter }: Meter): number {
  return factorInMeter ? raw : underwaterParUmolM2S(raw, immersionFactor);
}
