import { timeChart } from '../../platform/charts/time-chart.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { type DailyLight, dailyCourse } from '../light/daily-course.rules.ts';
import type { LotLight } from '../light/lot-light.ts';
import { dailyWords } from '../light/words.ts';
import type { LotRecord } from './record.ts';

/** Four months: a lot adapts to other light in a few weeks, healing takes longer (own choice). */
const SHOWN_DAYS = 120;

/** The light a lot got against the light it was accustomed to, as a chart and as a table of its changes; null where its light, or for how many hours a day it has it, is not known. */
export function lightChart(record: LotRecord, timeZone: string, now: Date) {
  const { light, care } = record;
  const from = daysBefore(now, SHOWN_DAYS);
  const course = dailyCourse(light, care, from, now);
  const last = course.at(-1);
  if (last === undefined || course.length < 2 || light.exposures.some(({ hoursKnown }) => !hoursKnown))
    return null;
  const points = (of: (day: DailyLight) => number | null) =>
    course.map((day) => ({ at: day.at, value: of(day) }));
  const drawChart = (width: number, height: number) =>
    timeChart({
      width,
      height,
      label: labelOf(last),
      from: course[0]?.at ?? from,
      to: now,
      timeZone,
      points: [],
      markers: originOf(record).filter(({ at }) => course[0] !== undefined && at > course[0].at),
      courses: [
        { mark: 'limit', points: points(({ tolerated }) => tolerated) },
        { mark: 'line series-2', points: points(({ accustomed }) => accustomed) },
        { mark: 'line gets', stepped: true, points: points(({ received }) => received) },
      ],
    });
  return {
    wide: drawChart(960, 260),
    narrow: drawChart(360, 260),
    tolerated: last.tolerated !== null,
    rows: rowsOf(light, course, timeZone),
  };
}

/** A marker where the lot's own light begins, after that of the lot it came out of. */
function originOf({ lot: { parent, cutInto, arrivedAt } }: LotRecord) {
  if (parent === null) return [];
  const text = `${cutInto === null ? 'came out of' : 'cut from'} ${parent.code}`;
  return [{ at: cutInto?.at ?? arrivedAt, text }];
}

function labelOf({ received, accustomed, tolerated }: DailyLight): string {
  const now = received === null ? 'Its light now is not known' : `It gets ${dailyWords(received)} now`;
  const most = tolerated === null ? '' : `, and can take ${dailyWords(tolerated)}`;
  const used =
    accustomed === null ? 'what it is used to is not known yet' : `is used to ${dailyWords(accustomed)}`;
  return `${now}, ${used}${most}.`;
}

/** One row for each change of light in the chart, the newest first. */
function rowsOf({ exposures }: LotLight, course: readonly DailyLight[], timeZone: string) {
  const start = course[0]?.at.getTime() ?? 0;
  const shown = exposures.filter(({ to }) => to === null || to.getTime() > start);
  return shown.reverse().flatMap((piece) => {
    const day = course.find(({ at }) => at.getTime() >= Math.max(piece.from.getTime(), start));
    if (day === undefined) return [];
    return {
      since: dateWords(piece.from, timeZone),
      par: numberWords(Math.round(piece.par)),
      estimated: piece.estimated,
      daily: dailyWords(piece.dli),
      accustomed: day.accustomed === null ? 'not known' : dailyWords(day.accustomed),
      times: day.accustomed !== null && day.accustomed > 0 ? numberWords(piece.dli / day.accustomed, 2) : '',
    };
  });
}
