import { eventKinds } from '../../farm/events/kinds.rules.ts';
import type { EndName } from '../../platform/charts/chart-marks.ts';
import { type ChartPoint, timeChart } from '../../platform/charts/time-chart.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { dateAtDay, dayOf, daysAfter } from '../../science/numeric/time.ts';
import { farmValue, type Quantity, say } from '../quantities/quantities.ts';
import type { NutrientView } from './nutrients.ts';
import type { PlanOutcome, PlanPoint } from './projection.rules.ts';
import { planDays } from './scenarios.rules.ts';
import type { PlanWater } from './words.rules.ts';

/** Days of the past beside the plans. */
const pastDays = 45;
/** Days between the bars of the second plan's interval. */
const barEvery = 14;

/** Both plans over the readings they start from, wide and narrow, and what the picture shows. */
export function planChart(
  { quantity, demand, targets }: NutrientView,
  outcomes: readonly { name: string; outcome: PlanOutcome }[],
  { systemName, water, target }: { systemName: string; water: PlanWater; target: number },
): { wide: string; narrow: string; says: string } {
  const { now, timeZone } = water;
  const [a, b] = outcomes;
  const kept = targets.get(quantity.code);
  const farm = (value: number) => farmValue(quantity, value).value;
  const end = (value: number | null | undefined) =>
    value === null || value === undefined ? null : farm(value);
  const at = (day: number) => daysAfter(now, day);
  const changed = changedOf(demand, at(-pastDays)).map(
    ({ at: day, text }) => ` Marked: ${text}, ${dateWords(day, timeZone)}.`,
  );
  const says = `${quantity.name} in ${systemName} over ${planDays} days: ${outcomes
    .map(({ name, outcome }) => `plan ${name} ends at ${endWords(quantity, outcome.points)}`)
    .join('; ')}. Wanted: ${say(quantity, target)}.${changed.join('')}`;
  const chart = {
    label: says,
    from: at(-pastDays),
    to: at(planDays),
    timeZone,
    points: pastOf(quantity, demand.readings, now),
    ahead: {
      now,
      points: (a?.outcome.points ?? []).map((point) => ({
        at: at(point.day),
        value: farm(point.value),
        low: farm(point.low),
        high: farm(point.high),
      })),
    },
    lines: [{ name: '', points: (b?.outcome.points ?? []).map((point) => linePoint(quantity, point, at)) }],
    endNames: endNames(quantity, outcomes, at),
    band: { low: end(kept?.bandLow), high: end(kept?.bandHigh) },
    markers: [...changedOf(demand, at(-pastDays)), { at: now, text: 'today' }],
  };
  return { wide: timeChart(chart), narrow: timeChart({ ...chart, width: 360, height: 300 }), says };
}

/** What last changed the habits of the water, where it lies within the picture. */
function changedOf({ learntSince }: NutrientView['demand'], from: Date): { at: Date; text: string }[] {
  if (learntSince === null || dateAtDay(learntSince.day) < from) return [];
  return [{ at: dateAtDay(learntSince.day), text: eventKinds[learntSince.kind] }];
}

function endWords(quantity: Quantity, points: readonly PlanPoint[]): string {
  const last = points.at(-1);
  if (last === undefined) return 'nothing';
  const [low, high] = [last.low, last.high].map((value) =>
    numberWords(farmValue(quantity, value).value, quantity.decimals),
  );
  return `${say(quantity, last.value)} (${low} to ${high})`;
}

function pastOf(quantity: Quantity, readings: NutrientView['demand']['readings'], now: Date): ChartPoint[] {
  const nowDay = dayOf(now);
  return readings
    .filter(({ day }) => day > nowDay - pastDays)
    .map(({ day, value, u, below, trust }) => ({
      at: dateAtDay(day),
      value: farmValue(quantity, value).value,
      error: below ? 0 : farmValue(quantity, value).value - farmValue(quantity, Math.max(0, value - u)).value,
      kind: below ? 'below' : trust,
    }));
}

/** The name of each plan beside its end. */
function endNames(
  quantity: Quantity,
  outcomes: readonly { name: string; outcome: PlanOutcome }[],
  at: (day: number) => Date,
): EndName[] {
  return outcomes.flatMap(({ name, outcome }) =>
    outcome.points
      .slice(-1)
      .map(({ day, value }) => ({ text: name, at: at(day), value: farmValue(quantity, value).value })),
  );
}

function linePoint(
  quantity: Quantity,
  { day, value, low, high }: PlanPoint,
  at: (day: number) => Date,
): ChartPoint {
  const farm = (one: number) => farmValue(quantity, one).value;
  const plain = { at: at(day), value: farm(value), error: 0, kind: 'plain' as const };
  return day > 0 && day % barEvery === 0 ? { ...plain, range: [farm(low), farm(high)] } : plain;
}
