import { COUNTING_HOTSPOT_DEGC, HEAT_WINDOW_DAYS, heatStressByDay as heatOf } from '../../../science/heat.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { trustedReadings } from '../levels/simultaneous.ts';

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
  /** The heat reaches back to where temperatures begin, so that it may have begun earlier. */
  longer: boolean;
}

/** The warmest usual month, °C, of a system with neither a year of readings nor a band. */
type WarmthWithout = { usual: number };

const possible = ({ mean }: { mean: number }) => mean >= 0 && mean <= 45;

/** The heat that has added up by the last day with a temperature; null where nothing counts. */
export function heatNow(facts: SystemFacts, values: WarmthWithout, now: Date): Heat | null {
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
    longer: firstHot === 0 || days.slice(0, firstHot).every((mean) => mean === null),
  };
}

/** Months with fewer readings say nothing of a month's mean. */
const fewestInMonth = 10;
const fewestMonths = 9;

/** The warmest month of the year before the twelve weeks that are judged; else the band's edge, else what is practised. */
function usualWarmth(facts: SystemFacts, { usual }: WarmthWithout, now: Date): UsualWarmth {
  const before = dayOf(now) - HEAT_WINDOW_DAYS;
  const older = trustedReadings(facts, 'temperature').filter(
    ({ day, below, above }) => day < before && !below && !above,
  );
  const months = [...Map.groupBy(older, ({ at }) => at.slice(0, 7)).values()]
    .filter((month) => month.length >= fewestInMonth)
    .map((month) => month.reduce((sum, { value }) => sum + value, 0) / month.length);
  if (months.length >= fewestMonths) return { degC: Math.max(...months), from: 'own summer' };
  const edge = facts.kept.get('temperature')?.bandHigh ?? null;
  return edge === null ? { degC: usual, from: 'practice' } : { degC: edge, from: 'band' };
}
