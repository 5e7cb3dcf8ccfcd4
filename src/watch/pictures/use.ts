import type pg from 'pg';
import type { Alert } from '../../alerts/alerts.ts';
import type { SmallPicture } from '../../platform/charts/small-chart.ts';
import { type ChartPoint, type TimeChart, timeChart } from '../../platform/charts/time-chart.ts';
import type { Service } from '../../platform/service.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateAtDay, daysBefore, daysBetween } from '../../science/numeric/time.ts';
import { readDemand } from '../../water/demand/demand.ts';
import { demandDay } from '../../water/demand/demand-record.rules.ts';
import { type DemandShift, demandShift } from '../../water/demand/shift.rules.ts';
import { displayDifference } from '../../water/demand/words.rules.ts';
import { readEstimates } from '../../water/estimates/estimates.ts';
import { decimalsIn, type Quantity, unitName } from '../../water/quantities/quantities.ts';
import { listRoutines } from '../../water/routines/routines.ts';
import { readSystem } from '../../water/system-page/system-page.ts';
import { type AlertPicture, type Clock, narrowWidth, noPicture, wideWidth } from './picture.ts';
import { afterwards, lanesOf, narrowShare, seriesPicture, tableOf, washOf } from './series.ts';

const code = 'alkalinity';

/** An alert on what is used: the use, window by window, as the rule compares it, with what was dosed beneath. */
export async function usePicture(service: Service, alert: Alert, clock: Clock): Promise<AlertPicture> {
  const { timeZone, now } = clock;
  const { pool } = service;
  const to = alert.clearedAt ?? now;
  const shift = (await shiftsOf(pool, [alert.systemId], to)).get(alert.systemId);
  if (shift === undefined) return seriesPicture(service, alert, code, clock);
  const from = dateAtDay(shift.sinceDay);
  const [view, { running }] = await Promise.all([
    readSystem(service, { systemId: alert.systemId, code, from, to, timeZone }),
    listRoutines(pool, [alert.systemId], now),
  ]);
  const wash = washOf(alert, timeZone, to);
  const about = { systemName: alert.systemName, from, to, timeZone };
  const lanes = lanesOf(view, running, timeZone);
  const chart: TimeChart = { ...useChart(shift, view.quantity, about), wash, lanes };
  const narrow = afterwards({
    ...chart,
    from: daysBefore(to, Math.round(daysBetween(from, to) * narrowShare)),
  });
  return {
    ...noPicture,
    drawings: [
      {
        wide: timeChart({ ...chart, width: wideWidth, height: 330 }),
        narrow: timeChart({ ...narrow, width: narrowWidth, height: 290 }),
        says: chart.label,
      },
    ],
    table: tableOf(view, to, timeZone),
  };
}

/** The use of each window with its error, what it is compared with as the limit; in the farm's unit a day. */
export function useChart(
  shift: DemandShift,
  quantity: Quantity,
  { systemName, ...period }: { systemName: string; from: Date; to: Date; timeZone: string },
): TimeChart {
  const { points, usual } = useIn(quantity, shift);
  const words = (value: number) => numberWords(value, decimalsIn(quantity, quantity.displayUnit));
  const unit = `${unitName(quantity.code, quantity.displayUnit)} a day`;
  const before = points.slice(0, -1).map(({ value }) => value);
  const span = `${words(Math.min(...before))} to ${words(Math.max(...before))} ${unit}`;
  const name = shift.grows ? 'expected' : 'usually';
  return {
    ...period,
    label: `${quantity.name} used a day in ${systemName}: ${span} in ${plural(before.length, 'window', 'windows')} of ${shift.days} days, ${words(points.at(-1)?.value ?? 0)} in the last; ${name} ${words(usual)}.`,
    points,
    courses: [{ mark: 'thread', points }],
    limit: { value: usual, text: `${name} ${words(usual)} ${unit}` },
  };
}

/** The windows at their middles, the present one last, and what the past leads to. */
function useIn(quantity: Quantity, { past, late, use, usual, expected }: DemandShift) {
  const inFarm = (value: number) => displayDifference(quantity, value, late.level);
  const at = (day: number, value: number, sd: number): ChartPoint => ({
    ...{ at: dateAtDay(day), value: inFarm(value), error: inFarm(sd), kind: 'plain' },
  });
  const points = [
    ...past.map((window) => at(window.day, window.use, window.sd)),
    at((late.fromDay + late.toDay) / 2, use, late.sd),
  ];
  return { points, usual: inFarm(use < usual ? usual : expected) };
}

/** The same small, by system. Eleven queries, however many systems; none where there are none. */
export async function smallUses(
  pool: pg.Pool,
  systemIds: readonly string[],
  quantity: Quantity | undefined,
  now: Date,
): Promise<Map<string, Extract<SmallPicture, { kind: 'course' }>>> {
  if (quantity === undefined) return new Map();
  const shifts = await shiftsOf(pool, systemIds, now);
  return new Map([...shifts].map(([id, shift]) => [id, smallUse(shift, quantity, now)]));
}

function smallUse(shift: DemandShift, quantity: Quantity, now: Date) {
  const from = dateAtDay(shift.sinceDay);
  const { label } = useChart(shift, quantity, { systemName: 'this system', from, to: now, timeZone: 'UTC' });
  const points = useIn(quantity, shift).points.map(({ at, value }) => ({ at: at.toISOString(), value }));
  return {
    ...{ kind: 'course' as const, points, stepped: false, band: null, says: label },
    ...{
      since: dateAtDay(shift.late.fromDay).toISOString(),
      from: from.toISOString(),
      to: now.toISOString(),
    },
  };
}

/** What is used now against before, by system; a system is left out where that cannot be compared. */
async function shiftsOf(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
): Promise<Map<string, DemandShift>> {
  if (systemIds.length === 0) return new Map();
  const estimates = await readEstimates(pool, systemIds, now, [code]);
  const demands = await readDemand(pool, estimates, now);
  return new Map(
    [...estimates].flatMap(([id, { record }]): [string, DemandShift][] => {
      const data = demands.get(id)?.get(code);
      const shift = data === undefined ? null : demandShift(data, demandDay(record, code, now));
      return shift === null ? [] : [[id, shift]];
    }),
  );
}
