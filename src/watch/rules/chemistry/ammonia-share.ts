import { unionisedAmmoniaShare } from '../../../science/ammonia.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { nearestReading, trustedReadings } from '../levels/simultaneous.ts';

/** The water in which the share was worked out, and what of it was taken for granted. */
export interface AmmoniaShare {
  share: number;
  /** Relative standard uncertainty of the share. */
  u: number;
  ph: number;
  assumed: string[];
}

/** What is taken where nobody read it: the usual of the trade, with a pH on its high side. */
const usual = { ph: 8.3, salinity: 35, temperature: 25 };
const apart = { ph: 2, salinity: 7, temperature: 2 };
/** An error of 0.1 in pH moves the share by a quarter, and models differ by a tenth. */
const perPh = 2.3;
const models = 0.1;

/** The un-ionised share of ammonia by the readings nearest to a day. */
export function shareAt(facts: SystemFacts, day: number): AmmoniaShare {
  const near = (code: keyof typeof apart) => nearestReading(trustedReadings(facts, code), day, apart[code]);
  const [ph, salinity, temperature] = [near('ph'), near('salinity'), near('temperature')];
  const known = { ph, salinity, temperature };
  const share = unionisedAmmoniaShare({
    ph: within(ph?.value ?? usual.ph, 5, 10),
    phScale: 'NBS',
    salinity: within(salinity?.value ?? usual.salinity, 0, 40),
    temperatureDegC: within(temperature?.value ?? usual.temperature, 0, 40),
  });
  return {
    share,
    u: Math.hypot(perPh * (ph?.u ?? 0.2), models),
    ph: ph?.value ?? usual.ph,
    assumed: (Object.keys(known) as (keyof typeof known)[]).filter((code) => known[code] === null),
  };
}

const within = (value: number, low: number, high: number) => Math.min(high, Math.max(low, value));
