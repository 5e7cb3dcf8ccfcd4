import { timeChart } from '../../platform/charts/time-chart.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { type LightDay, lightCourse } from '../light/daily-course.rules.ts';
import type { LotLight } from '../light/lot-light.ts';
import { dailyWords } from '../light/words.ts';
import type { LotRecord } from './record.ts';

/** Four months: a change of light is adapted to in a few weeks, healing takes longer. */
const SHOWN_DAYS = 120;

/** What a lot gets against what it is used to, as a picture and as a table of what changed; null where nothing is known. */
export function lightChart(record: LotRecord, timeZone: string, now: Date) {
  const { light, care } = record;
  const from = daysBefore(now, SHOWN_DAYS);
  const course = lightCourse(light, care, from, now);
  const last = course.at(-1);
  if (last === undefined || course.length < 2) return null;
  const points = (of: (day: LightDay) => number | null) =>
    course.map((day) => ({ at: day.at, value: of(day) }));
  const drawn = (width: number, height: number) =>
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
        { mark: 'limit', points: points(({ bears }) => bears) },
        { mark: 'line series-2', points: points(({ used }) => used) },
        { mark: 'line gets', stepped: true, points: points(({ gets }) => gets) },
      ],
    });
  return {
    wide: drawn(960, 260),
    narrow: drawn(360, 260),
    bears: last.bears !== null,
    rows: rowsOf(light, course, timeZone),
  };
}

/** Since when the light is its own, and no longer that of the lot it came out of. */
function originOf({ lot: { parent, cutInto, arrivedAt } }: LotRecord) {
  if (parent === null) return [];
  const text = `${cutInto === null ? 'came out of' : 'cut from'} ${parent.code}`;
  return [{ at: cutInto?.at ?? arrivedAt, text }];
}

function labelOf({ gets, used, bears }: LightDay): string {
  const now = gets === null ? 'Its light now is not known' : `It gets ${dailyWords(gets)} now`;
  const most = bears === null ? '' : `, and bears ${dailyWords(bears)}`;
  return `${now}, is used to ${dailyWords(used)}${most}.`;
}

/** One row for each change of light within what is shown, the newest first. */
function rowsOf({ exposures }: LotLight, course: readonly LightDay[], timeZone: string) {
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
      used: dailyWords(day.used),
      times: day.used > 0 ? numberWords(piece.dli / day.used, 2) : '',
    };
  });
}
