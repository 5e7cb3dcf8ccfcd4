import type { Finding } from '../../../alerts/finding.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { waterEnded } from '../endings/water.ts';
import { trustedReadings } from '../levels/simultaneous.ts';
import { type Saturated, saturationAt } from './saturation-of-readings.ts';
import { saturationFinding } from './saturation-words.ts';

const parameters = {
  dissolves: {
    label: 'Skeleton dissolves below a saturation of',
    unit: '',
    default: 1,
    low: 0.5,
    high: 2,
    source: 'its definition: Dickson, Sabine & Christian 2007',
  },
  low: {
    label: 'Low below a saturation of',
    unit: '',
    default: 1.5,
    low: 0.5,
    high: 5,
    source:
      'own choice; computed: water of 8 dKH is at 4.5 in outdoor air, at 1.8 in a closed room of 1,500 ppm carbon dioxide, at 1.4 in one of 2,000',
  },
  high: {
    label: 'Carbonate drops out from a saturation of',
    unit: '',
    default: 8,
    low: 4,
    high: 30,
    source:
      'Biogeosciences 19 (2022) 3537, abstract: none at about 5, aragonite drops out on particles above 7; own choice for a tank that holds more',
  },
  clear: {
    label: 'Alert beyond a limit by so many times the uncertainty',
    unit: 'times',
    default: 1,
    low: 0,
    high: 3,
    source: 'own choice: 84 % likely to be beyond it, twice running',
  },
};

type SaturationSettings = Values<typeof parameters>;

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
  parameters,
  quietHours: 3 * 24,
  ended: waterEnded('alkalinity', 'calcium', 'ph', 'temperature'),
  evaluate(facts, settings, now) {
    const finding = judge(facts, settings(), now);
    return finding === null ? [] : [finding];
  },
});

const stays = -0.3;

function judge(facts: SystemFacts, values: SaturationSettings, now: Date): Finding | null {
  const today = dayOf(now);
  const phs = byDay(trustedReadings(facts, 'ph').filter(({ day }) => day > today - lookBack)).slice(-2);
  if (phs.length < 2 || today - (phs.at(-1)?.day ?? 0) > knownDays) return null;
  const others = (['alkalinity', 'salinity', 'temperature', 'calcium'] as const).map(
    (code) => [code, trustedReadings(facts, code)] as const,
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
