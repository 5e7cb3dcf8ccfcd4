import type { Finding } from '../../../alerts/finding.ts';
import { totalPhFromNbs } from '../../../science/carbonate/ph-scale.ts';
import {
  type CarbonateReading,
  carbonateOfReading,
  carbonateUncertainty,
  type WithUncertainty,
} from '../../../science/carbonate/reading.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { combine } from '../../../science/statistics/uncertainty.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../finding/parameters.ts';
import { defineRule } from '../../finding/rule.ts';
import { nearest, reliedReadings } from '../levels/simultaneous.ts';
import { saturationFinding } from './saturation-words.ts';

const knobs = {
  dissolves: {
    label: 'Aragonite saturation below which skeleton dissolves',
    unit: '',
    default: 1,
    low: 0.5,
    high: 2,
    source: 'its definition: Dickson, Sabine & Christian 2007',
  },
  low: {
    label: 'Aragonite saturation that counts as low',
    unit: '',
    default: 1.5,
    low: 0.5,
    high: 5,
    source: 'own choice: reefs stand at 3 to 4 (from memory), healthy tanks in the morning at 2 to 3',
  },
  high: {
    label: 'Aragonite saturation from which carbonate drops out',
    unit: '',
    default: 8,
    low: 4,
    high: 30,
    source:
      'Biogeosciences 19 (2022) 3537, from memory: from about 5 to 7 on particles; own choice for a tank that holds more',
  },
  clear: {
    label: 'Distance beyond a limit, over its own uncertainty, that opens an alert',
    unit: 'times',
    default: 1,
    low: 0,
    high: 3,
    source: 'own choice: beyond it with a probability of 84 %, twice running',
  },
};

export type SaturationSettings = Values<typeof knobs>;

/** How far apart the readings of one calculation may lie, days; own choice by how fast each moves. */
const apart = { alkalinity: 1, salinity: 7, temperature: 1, calcium: 14 };
/** A pH older than this says nothing of today. */
const knownDays = 4;
const lookBack = 10;

/** How strongly the water holds calcium carbonate, from alkalinity, pH, salinity and temperature. */
export const saturation = defineRule({
  name: 'saturation',
  heading: 'Aragonite saturation',
  watches:
    'Works out the saturation of aragonite from alkalinity, pH, salinity and temperature read close in time, with the uncertainty that they leave. It alerts when two mornings running say that it is low, that skeleton dissolves, or that carbonate drops out.',
  byKind: false,
  knobs,
  quietHours: 3 * 24,
  cleared: 'it has stood between its limits for three days',
  evaluate(facts, settings, now) {
    const finding = judge(facts, settings(), now);
    return finding === null ? [] : [finding];
  },
});

/** One calculation: what it rests on and what it came to. */
export interface Saturated extends WithUncertainty {
  day: number;
  readings: { code: string; reading: ReadingFact }[];
  phTotal: number;
}

const stays = -0.3;

function judge(facts: SystemFacts, values: SaturationSettings, now: Date): Finding | null {
  const today = dayOf(now);
  const phs = byDay(reliedReadings(facts, 'ph').filter(({ day }) => day > today - lookBack)).slice(-2);
  if (phs.length < 2 || today - (phs.at(-1)?.day ?? 0) > knownDays) return null;
  const others = (['alkalinity', 'salinity', 'temperature', 'calcium'] as const).map(
    (code) => [code, reliedReadings(facts, code)] as const,
  );
  const [before, last] = phs.map((ph) => saturationAt(ph, new Map(others), values));
  if (before == null || last == null) return null;
  const side = last.value < values.low ? 'low' : 'high';
  const beyond = ({ value, standardUncertainty }: Saturated) =>
    (side === 'low' ? values.low - value : value - values.high) / standardUncertainty;
  const z = Math.min(beyond(before), beyond(last));
  if (z < stays) return null;
  return saturationFinding(facts, last, side, z >= values.clear ? 'fires' : 'stays', values);
}

/** The last reading of each day. */
function byDay(readings: readonly ReadingFact[]): ReadingFact[] {
  return [...new Map(readings.map((one) => [Math.floor(one.day), one])).values()];
}

/** A saturation is known to about a fifth, so this far from both limits its uncertainty need not be worked out. */
const farInside = (value: number, { low, high }: SaturationSettings) =>
  value > 1.6 * low && value < 0.7 * high;

/** Null where a partner is missing, nothing is near a limit, or the water lies outside what the equations hold for. */
function saturationAt(
  ph: ReadingFact,
  others: ReadonlyMap<keyof typeof apart, readonly ReadingFact[]>,
  values: SaturationSettings,
): Saturated | null {
  const near = (code: keyof typeof apart) => nearest(others.get(code) ?? [], ph.day, apart[code]);
  const [alkalinity, salinity, temperature, calcium] = [
    near('alkalinity'),
    near('salinity'),
    near('temperature'),
    near('calcium'),
  ];
  if (alkalinity === null || salinity === null || temperature === null) return null;
  try {
    const total = totalPhFromNbs(ph.value, salinity.value, temperature.value);
    const reading: CarbonateReading = {
      alkalinityMeqL: alkalinity.value,
      phTotal: total.phTotal,
      salinity: salinity.value,
      temperatureDegC: temperature.value,
      ...(calcium === null ? {} : { calciumMgL: calcium.value }),
    };
    if (farInside(carbonateOfReading(reading).omegaAragonite, values)) return null;
    const worked = carbonateUncertainty(reading, {
      alkalinityMeqL: alkalinity.u,
      phTotal: combine(ph.u, total.standardUncertainty),
      salinity: salinity.u,
      temperatureDegC: temperature.u,
      ...(calcium === null ? {} : { calciumMgL: calcium.u }),
    });
    const partners = { ph: { reading: ph }, alkalinity, salinity, temperature, calcium };
    const readings = Object.entries(partners).flatMap(([code, known]) =>
      known?.reading == null ? [] : [{ code, reading: known.reading }],
    );
    return { ...worked, day: ph.day, readings, phTotal: total.phTotal };
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}
