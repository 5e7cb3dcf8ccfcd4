import type { Finding } from '../../../alerts/finding.ts';
import { fixed } from '../../../platform/units/everyday.ts';
import { scales } from '../../../platform/units/scales.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { heatEnded } from '../endings/water.ts';
import { heatNow } from './heat-sum.ts';
import { heatFinding } from './heat-words.ts';

const satellite = 'NOAA Coral Reef Watch: from 4 bleaching is usual, from 8 death widespread';

const parameters = {
  bleaching: {
    label: 'Alert from degree heating weeks of',
    unit: '°C-weeks',
    default: 4,
    low: 1,
    high: 20,
    source: satellite,
  },
  death: {
    label: 'Grave from degree heating weeks of',
    unit: '°C-weeks',
    default: 8,
    low: 2,
    high: 40,
    source: satellite,
  },
  usual: {
    label: 'Warmest usual month, where a year of readings and a band are missing',
    unit: '°C',
    scale: scales.degC,
    default: 28.3,
    low: 20,
    high: 32,
    source: 'chemistry article, common practice: 24.4 to 28.3',
  },
};

type HeatSettings = Values<typeof parameters>;

/** Heat that has added up over weeks. */
export const heatStress = defineRule({
  name: 'heat-stress',
  heading: 'Heat stress',
  watches: `Adds up, over twelve weeks, how far and how long each day’s mean temperature was at least ${fixed.byDegC(1)} above the warmest month this system is used to (from a year of its readings, else the upper edge of its band), as satellites do for reefs.`,
  byKind: false,
  parameters,
  quietHours: 7 * 24,
  ended: heatEnded,
  evaluate(facts, settings, now) {
    const finding = judge(facts, settings(), now);
    return finding === null ? [] : [finding];
  },
});

/** An alert stays down to this part of its limit. */
const stays = 0.75;
const [opensWithin, staysWithin] = [7, 14];
const staleDays = 3;

function judge(facts: SystemFacts, values: HeatSettings, now: Date): Finding | null {
  const heat = heatNow(facts, values, now);
  if (heat === null || heat.weeks < stays * values.bleaching || heat.lately > staysWithin) return null;
  const last = facts.temperatures.at(-1)?.day ?? 0;
  const stale = dayOf(now) - last > staleDays + 1;
  const fires = heat.weeks >= values.bleaching && heat.lately <= opensWithin;
  return heatFinding(facts, heat, stale ? 'unknown' : fires ? 'fires' : 'stays', values, now);
}
