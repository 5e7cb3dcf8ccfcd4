import type { Alert } from '../../alerts/alerts.ts';
import type { Answer } from '../../alerts/finding.ts';
import type { BarLane, Wash } from '../../platform/charts/lanes.ts';
import { type TimeChart, timeChart } from '../../platform/charts/time-chart.ts';
import { localDay, momentOf } from '../../platform/days.ts';
import type { Service } from '../../platform/service.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dateWords, whenWords } from '../../platform/words/times.ts';
import { daysAfter, daysBefore, daysBetween } from '../../science/numeric/time.ts';
import { harmOf } from '../../water/acute/harm.rules.ts';
import type { Dose } from '../../water/log/doses.ts';
import { sayReading } from '../../water/quantities/quantities.ts';
import { listRoutines, type Routine } from '../../water/routines/routines.ts';
import { seriesChart } from '../../water/system-page/chart.ts';
import { readSystem, type SystemView } from '../../water/system-page/system-page.ts';
import { type AlertPicture, type Clock, narrowWidth, noPicture, wideWidth } from './picture.ts';

/** Days before the alert that show what was usual, and the fewest and most that are drawn; own choice. */
const daysBeforeIt = 28;
const [fewestDays, mostDays] = [28, 84];
/** Of an alert about hours: the day before it, and no more days in all; beyond that its weeks say more. Own choice. */
const [dayBeforeIt, mostHourDays] = [1, 4];
/** A phone has room for this part of them. */
export const narrowShare = 0.6;

/** A quantity of a system over the weeks that matter: tests with their error, doses and changes, kits, what was done. */
export async function seriesPicture(
  service: Service,
  alert: Alert,
  code: string,
  { timeZone, now }: Clock,
): Promise<AlertPicture> {
  const to = alert.clearedAt ?? now;
  const since = alert.finding.began ? new Date(alert.finding.began.from) : alert.openedAt;
  const hourDays = isOfHours(alert, code) ? Math.ceil(daysBetween(since, to) + dayBeforeIt) : mostDays;
  const byHours = hourDays <= mostHourDays;
  const weeks = Math.max(fewestDays, Math.min(mostDays, daysBetween(since, to) + daysBeforeIt));
  const days = byHours ? hourDays : Math.round(weeks);
  const wash = washOf(alert, timeZone, to, byHours);
  const from = daysBefore(to, days);
  const asked = { systemId: alert.systemId, code, from, to, timeZone };
  const [view, { running }] = await Promise.all([
    readSystem(service, asked),
    listRoutines(service.pool, [alert.systemId], now),
  ]);
  if (view.quantity.code !== code || view.parts.every(({ count }) => count === 0)) return noPicture;
  const period = { systemName: alert.systemName, from, to, days, timeZone };
  const lanes = lanesOf(view, running, timeZone);
  const answer = alert.finding.answer ?? null;
  const series = seriesChart(view, period);
  // Where a swing goes next nobody can say.
  const drawn = alert.rule === 'alkalinity-unsteady' ? { ...series, ahead: null, to } : series;
  const chart: TimeChart = {
    ...withAnswer(joined(drawn), answer, { timeZone, now }),
    ...{ wash, lanes },
  };
  const narrow = {
    ...chart,
    from: daysBefore(to, byHours ? days * narrowShare : Math.round(days * narrowShare)),
  };
  return {
    ...noPicture,
    drawings: [
      {
        wide: timeChart({ ...chart, width: wideWidth, height: 330 }),
        narrow: timeChart({ ...afterwards(narrow), width: narrowWidth, height: 290 }),
        says: chart.label,
      },
    ],
    table: tableOf(view, to, timeZone),
  };
}

/** Whether an alert is about hours: drawn by weeks, what rose since noon would not be seen. */
const isOfHours = ({ rule, severity }: Pick<Alert, 'rule' | 'severity'>, code: string): boolean =>
  quickRules.includes(rule) || (severity === 'now' && harmOf(code) === 'hours');

/** Rules that compare the last hours with the days before. */
const quickRules: readonly string[] = ['warming-fast', 'sinking-fast'];

/** From when on it is so by all that is known; else since the alert is open. `byHours`: the picture shows hours, so times say them. */
export function washOf(alert: Alert, timeZone: string, to: Date, byHours = false): Wash | null {
  const { began } = alert.finding;
  const tone = alert.severity;
  const day = (at: Date) => (byHours ? whenWords(at, timeZone, to) : dayWordsOf(at, timeZone, to));
  if (began) {
    const [from, surely] = [new Date(began.from), new Date(began.to)];
    const text = day(from) === day(surely) ? `since ${day(surely)}` : `began ${day(from)} to ${day(surely)}`;
    return { from, surely, to, text, tone };
  }
  const since = alert.openedAt;
  return { from: since, surely: since, to, text: `alert since ${day(since)}`, tone };
}

/** "7 Nov", with the year where it is another. */
const dayWordsOf = (at: Date, timeZone: string, now: Date) =>
  whenWords(localDay(at, timeZone), timeZone, now);

/** What was done about it, when that is confirmed or asked for, on the same picture. */
function withAnswer(chart: TimeChart, answer: Answer | null, clock: Clock): TimeChart {
  if (answer === null) return chart;
  const dueAt = new Date(answer.dueAt);
  const asked =
    answer.confirmedAt === null
      ? [{ at: dueAt, text: answer.overdue ? 'confirm: overdue' : 'confirm by then' }]
      : [{ at: new Date(answer.confirmedAt), text: answer.still ? 'tested since' : 'confirmed' }];
  const markers = [...(chart.markers ?? []), { at: new Date(answer.at), text: 'done' }, ...asked];
  const to = chart.to < dueAt ? daysAfter(dueAt, 1) : chart.to;
  const label = `${chart.label} Done on ${dateWords(new Date(answer.at), clock.timeZone)}: ${answer.what}.`;
  return { ...chart, to, markers, label };
}

/** The tests joined in their order, so that a course is seen among many; those that do not count are left out. */
function joined(chart: TimeChart): TimeChart {
  const points = chart.points.filter(({ kind }) => kind === 'plain' || kind === 'confirmed');
  return { ...chart, courses: [...(chart.courses ?? []), { mark: 'thread', points }] };
}

/** The same without what lies before it begins. */
export function afterwards(chart: TimeChart): TimeChart {
  const inside = <T extends { at: Date }>(all: readonly T[] = []) => all.filter(({ at }) => at >= chart.from);
  return {
    ...chart,
    points: inside(chart.points),
    courses: (chart.courses ?? []).map((course) => ({ ...course, points: inside(course.points) })),
    lines: (chart.lines ?? []).map((line) => ({ ...line, points: inside(line.points) })),
    markers: inside(chart.markers),
    events: inside(chart.events),
    spans: (chart.spans ?? []).filter(({ to }) => to === null || to > chart.from),
  };
}

/** Doses of the quantity and water changes, day by day; a lane only where there were any. */
export function lanesOf(view: SystemView, routines: readonly Routine[], timeZone: string): BarLane[] {
  const own = view.doses.filter(
    ({ quantityCode, voidedAt }) => quantityCode === view.quantity.code && voidedAt === null,
  );
  const changes = view.changes.filter(({ voidedAt }) => voidedAt === null);
  const doses = doseLane(own, routines, timeZone);
  const water: BarLane = {
    name: 'Water changes, L a day',
    bars: byDay(changes, ({ volumeL }) => volumeL, timeZone),
    usual: null,
  };
  return [...(doses === null ? [] : [doses]), ...(changes.length === 0 ? [] : [water])];
}

/** The substance dosed most often, in its unit, day by day, with what a routine has of it. */
function doseLane(doses: readonly Dose[], routines: readonly Routine[], timeZone: string): BarLane | null {
  const kinds = [...Map.groupBy(doses, ({ substance, unit }) => `${substance}, ${unit} a day`)].sort(
    ([, a], [, b]) => b.length - a.length,
  );
  const [name, all] = kinds[0] ?? [];
  const [first] = all ?? [];
  if (name === undefined || all === undefined || first === undefined) return null;
  const set = routines.find(
    ({ plan }) => plan.work === 'dose' && plan.substance === first.substance && plan.unit === first.unit,
  );
  const daily = set?.plan.work === 'dose' ? set.plan.amount / set.everyDays : null;
  return {
    name: capitalized(name),
    bars: byDay(all, ({ amount }) => amount, timeZone),
    usual:
      daily === null
        ? null
        : { value: daily, text: `${numberWords(daily, daily < 10 ? 1 : 0)} in the routine` },
  };
}

/** Sums of a local day, at its noon. */
function byDay<T extends { at: Date }>(
  all: readonly T[],
  of: (one: T) => number,
  timeZone: string,
): { at: Date; value: number }[] {
  return [...Map.groupBy(all, ({ at }) => localDay(at, timeZone))].map(([day, ofDay]) => ({
    at: momentOf(day, '12:00', timeZone),
    value: ofDay.reduce((sum, one) => sum + of(one), 0),
  }));
}

/** The tests in the picture, the newest first. */
export function tableOf(view: SystemView, to: Date, timeZone: string): AlertPicture['table'] {
  const rows = view.parts
    .flatMap(({ readings }) => readings)
    .filter(({ voidedAt }) => voidedAt === null)
    .sort((a, b) => b.at.getTime() - a.at.getTime())
    .map((reading) => [
      { text: whenWords(reading.at, timeZone, to), href: '' },
      { text: sayReading(view.quantity, reading), href: `/water/readings/${reading.id}` },
      { text: reading.trust === 'plain' ? '' : reading.trust, href: '' },
    ]);
  if (rows.length === 0) return null;
  return {
    title: rows.length === 1 ? 'The test' : `The ${rows.length} tests`,
    head: ['When', 'Value', 'Trust'],
    rows,
  };
}
