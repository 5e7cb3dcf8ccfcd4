import type { Finding } from '../../../alerts/finding.ts';
import { COUNTING_HOTSPOT_DEGC, HEAT_WINDOW_DAYS, heatStress as heatOf } from '../../../science/heat.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../finding/parameters.ts';
import { defineRule } from '../../finding/rule.ts';
import { reliedReadings } from '../levels/simultaneous.ts';
import { heatFinding } from './heat-words.ts';

const satellite = 'NOAA Coral Reef Watch: from 4 bleaching is usual, from 8 death widespread';

const knobs = {
  bleaching: {
    label: 'Degree heating weeks that open an alert',
    unit: '°C-weeks',
    default: 4,
    low: 1,
    high: 20,
    source: satellite,
  },
  death: {
    label: 'Degree heating weeks from which it is grave',
    unit: '°C-weeks',
    default: 8,
    low: 2,
    high: 40,
    source: satellite,
  },
  usual: {
    label: 'Warmest usual month where the system has neither a year of readings nor a band',
    unit: '°C',
    default: 28.3,
    low: 20,
    high: 32,
    source: 'chemistry article, common practice: 24.4 to 28.3',
  },
};

export type HeatSettings = Values<typeof knobs>;

/** Heat that has added up over weeks. */
export const heatStress = defineRule({
  name: 'heat-stress',
  heading: 'Heat stress',
  watches:
    'Adds up, over twelve weeks, how far and how long each day’s mean temperature stood at least 1 °C above the warmest month this system is used to (from a year of its readings, else the upper edge of its band), as satellites do for reefs.',
  byKind: false,
  knobs,
  quietHours: 7 * 24,
  cleared: 'it has been cooler for two weeks, or the heat of weeks ago no longer counts',
  evaluate(facts, settings, now) {
    const finding = judge(facts, settings(), now);
    return finding === null ? [] : [finding];
  },
});

/** What counts as the warmest month the stock is used to, and whose figure that is. */
export interface UsualWarmth {
  degC: number;
  from: 'own summer' | 'band' | 'practice';
}

/** The heat of the last twelve weeks. */
export interface Heat {
  weeks: number;
  hotspot: number;
  mean: number;
  missing: number;
  usual: UsualWarmth;
  /** Days of the last fortnight that stood above the usual. */
  lately: number;
  sinceDay: number;
}

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

const possible = ({ mean }: { mean: number }) => mean >= 0 && mean <= 45;

function heatNow(facts: SystemFacts, values: HeatSettings, now: Date): Heat | null {
  const known = facts.temperatures.filter(possible);
  const last = known.at(-1);
  const usual = usualWarmth(facts, values, now);
  if (last === undefined || usual.degC < 15 || usual.degC > 35) return null;
  const first = last.day + 1 - HEAT_WINDOW_DAYS;
  const byDay = new Map(known.map(({ day, mean }) => [day, mean]));
  const days = Array.from({ length: HEAT_WINDOW_DAYS }, (_, i) => byDay.get(first + i) ?? null);
  const series = heatOf(days, usual.degC);
  const at = series.at(-1);
  const hot = series.findLastIndex(({ hotspotDegC }) => (hotspotDegC ?? 0) >= COUNTING_HOTSPOT_DEGC - 1e-9);
  const firstHot = series.findIndex(({ hotspotDegC }) => (hotspotDegC ?? 0) >= COUNTING_HOTSPOT_DEGC - 1e-9);
  if (at === undefined || hot < 0) return null;
  return {
    weeks: at.degreeHeatingWeeks,
    hotspot: at.hotspotDegC ?? 0,
    mean: last.mean,
    missing: at.missingDays,
    usual,
    lately: HEAT_WINDOW_DAYS - 1 - hot,
    sinceDay: first + firstHot,
  };
}

/** Months with fewer readings say nothing of a month's mean. */
const fewestInMonth = 10;
const fewestMonths = 9;

/** The warmest month of the year before the twelve weeks that are judged; else the band's edge, else what is practised. */
function usualWarmth(facts: SystemFacts, { usual }: HeatSettings, now: Date): UsualWarmth {
  const before = dayOf(now) - HEAT_WINDOW_DAYS;
  const older = reliedReadings(facts, 'temperature').filter(({ day, below }) => day < before && !below);
  const months = [...Map.groupBy(older, ({ at }) => at.slice(0, 7)).values()]
    .filter((month) => month.length >= fewestInMonth)
    .map((month) => month.reduce((sum, { value }) => sum + value, 0) / month.length);
  if (months.length >= fewestMonths) return { degC: Math.max(...months), from: 'own summer' };
  const edge = facts.kept.get('temperature')?.bandHigh ?? null;
  return edge === null ? { degC: usual, from: 'practice' } : { degC: edge, from: 'band' };
}
