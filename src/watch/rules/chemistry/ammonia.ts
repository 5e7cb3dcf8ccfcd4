import type { Finding } from '../../../alerts/finding.ts';
import { unionisedAmmoniaShare } from '../../../science/ammonia.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../finding/parameters.ts';
import { defineRule } from '../../finding/rule.ts';
import { noShift } from '../levels/correction-offset.ts';
import { type Level, levelNow } from '../levels/level-against-band.ts';
import { trackLevel } from '../levels/level-filter.ts';
import { nearest, reliedReadings } from '../levels/simultaneous.ts';
import { judgeReadings } from '../levels/trusted-readings.ts';
import { ammoniaFinding } from './ammonia-words.ts';

const knobs = {
  total: {
    label: 'Total ammonia that a running system should not show',
    unit: 'mg/L as N',
    default: 0.1,
    low: 0.01,
    high: 5,
    source: 'chemistry article, common practice: below 0.1',
  },
  lasting: {
    label: 'Un-ionised ammonia that harms if it lasts',
    unit: 'mg/L as N',
    default: 0.029,
    low: 0.001,
    high: 1,
    source: 'US EPA 440/5-88-004 (1989), from memory: 0.035 mg/L as NH3, the four-day mean for salt water',
  },
  acute: {
    label: 'Un-ionised ammonia from which it acts now',
    unit: 'mg/L as N',
    default: 0.08,
    low: 0.002,
    high: 2,
    source: 'Arq. Cienc. Mar 57 (2024): no soft coral (Xenia) died at 0.08 in four days, half died at 0.28',
  },
};

export type AmmoniaSettings = Values<typeof knobs>;

const historyDays = 120;
/** Usual short swing, mg/L as N; own choice. */
const swing = 0.01;
/** Beyond a limit with a probability of 93 %, and inside with three in four. */
const [clear, stays] = [1.5, -0.7];
const staleDays = 14;

/** Ammonia, total and its poisonous part. */
export const ammonia = defineRule({
  name: 'ammonia',
  heading: 'Ammonia',
  watches:
    'Works out, from total ammonia with pH, salinity and temperature, the un-ionised part, which is what harms, and compares it with published bounds. Readings below detection are as it should be.',
  byKind: false,
  knobs,
  quietHours: 24,
  cleared: 'ammonia has been as good as gone for a day',
  evaluate(facts, settings, now) {
    const finding = judgeReadings(facts, 'ammonia', (readings) => judge(facts, readings, settings(), now));
    return finding === null ? [] : [finding];
  },
});

/** The water in which the share was worked out, and what of it was taken for granted. */
export interface AmmoniaShare {
  share: number;
  /** Relative standard uncertainty of the share. */
  u: number;
  ph: number;
  assumed: string[];
}

function judge(
  facts: SystemFacts,
  all: readonly ReadingFact[],
  values: AmmoniaSettings,
  now: Date,
): Finding | null {
  const today = dayOf(now);
  const readings = all.filter(({ day }) => day > today - historyDays);
  const last = readings.at(-1);
  if (last === undefined || last.below) return null;
  const relied = readings.filter(({ trust }) => trust !== 'unconfirmed');
  const track = trackLevel(relied.length > 0 ? relied : readings, swing, noShift);
  if (track === null) return null;
  const level = levelNow(readings, track);
  const share = shareAt(facts, last.day);
  const z = Math.max(beyondTotal(level, values), beyondLasting(level, share, values));
  if (z < stays) return null;
  const stale = today - last.day > staleDays;
  const standing = stale ? 'unknown' : z >= clear ? 'fires' : 'stays';
  return ammoniaFinding(facts, readings, level, share, standing, values);
}

const beyondTotal = ({ value, sd }: Level, { total }: AmmoniaSettings) => (value - total) / sd;

function beyondLasting({ value, sd }: Level, { share, u }: AmmoniaShare, { lasting }: AmmoniaSettings) {
  const sdShare = Math.hypot(share * sd, value * share * u);
  return (value * share - lasting) / sdShare;
}

/** What is taken where nobody read it: the usual of the trade, with a pH on its high side. */
const usual = { ph: 8.3, salinity: 35, temperature: 25 };
const apart = { ph: 2, salinity: 7, temperature: 2 };
/** An error of 0.1 in pH moves the share by a quarter, and models differ by a tenth. */
const perPh = 2.3;
const models = 0.1;

function shareAt(facts: SystemFacts, day: number): AmmoniaShare {
  const near = (code: keyof typeof apart) => nearest(reliedReadings(facts, code), day, apart[code]);
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
