import type pg from 'pg';
import { type ChartPoint, type TimeChart, timeChart } from '../../platform/charts/time-chart.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { dateAtDay, dayOf, daysBefore } from '../../science/numeric/time.ts';
import { repeatability } from '../../science/statistics/repeatability.ts';
import {
  type Asked,
  LEAST_VISITS,
  type Lightening,
  lighteningNow,
  type NotJudged,
  tellLightening,
} from '../../science/whiteness/lightening.ts';
import { followRack, type LotVisit, type RackSeries } from '../../science/whiteness/rack-series.ts';
import { type LotMeasure, lotMeasures, rackShots, SHOT_DAYS } from '../rack-photographs/measures.ts';
import { leftOutWords } from '../rack-photographs/reading.words.ts';

/** So many photographs of a lot are listed (own choice). */
const LISTED = 40;

const knownQuery = `
  SELECT (SELECT max(at) FROM cut WHERE from_lot_id = $1 OR into_lot_id = $1) AS "cutAt",
         ARRAY(SELECT at FROM condition WHERE lot_id = $1 AND voided_at IS NULL AND state = 'well' AND at > $2 ORDER BY at) AS well`;

/** What the watch asks of a lot on a rack before it tells that it is lighter: it judges lots, so it says by what. */
export type LighteningAskedOn = (pool: pg.Pool, rackId: string) => Promise<Asked>;

/** What photographs of racks tell of a lot, with the rack where it was last photographed; null where there are none. Six queries at most. */
export async function photographMeasures(
  pool: pg.Pool,
  lotId: string,
  askedOn: LighteningAskedOn,
  clock: Clock,
) {
  const { now } = clock;
  const measures = await lotMeasures(pool, lotId, LISTED);
  const [newest] = measures;
  if (newest === undefined) return null;
  const since = daysBefore(now, SHOT_DAYS);
  const [racks, { rows }, asked] = await Promise.all([
    rackShots(pool, { rackIds: [newest.rackId] }, { since, now }),
    pool.query<{ cutAt: Date | null; well: Date[] }>(knownQuery, [lotId, since]),
    askedOn(pool, newest.rackId),
  ]);
  const known = { cutDay: dayOrNull(rows[0]?.cutAt ?? null), wellDays: (rows[0]?.well ?? []).map(dayOf) };
  const series = followRack(racks[0]?.shots ?? []);
  const visits = series.lots.get(lotId) ?? [];
  const judged = lighteningNow(series, visits, known, asked);
  return {
    rack: { id: newest.rackId, name: newest.rackName },
    says: whitenessWords(series, visits, judged, { asked, timeZone: clock.timeZone }),
    whiteness: whitenessChart(series, visits, judged, measures, clock),
    area: areaChart(measures, clock),
    heightSeen: measures.some(({ cameraKnown, areaMm2 }) => areaMm2 !== null && !cameraKnown),
    rows: measures.map((one) => rowOf(one, visits)),
  };
}

const dayOrNull = (at: Date | null) => (at === null ? null : dayOf(at));

const lStar = (value: number) => `${numberWords(value, 1)} L*`;

interface Told {
  asked: Asked;
  timeZone: string;
}

/** The lot against its own past and its rack, in sentences. */
function whitenessWords(
  { scatter, visits: ofRack, lots }: RackSeries,
  visits: readonly LotVisit[],
  judged: Lightening | NotJudged,
  told: Told,
): string[] {
  const last = visits.at(-1);
  if (last === undefined) return ['Its whiteness was not measured of late.'];
  const within = lStar(repeatability(scatter.sd));
  const learnt =
    scatter.freedom === 0
      ? `Two photographs of an unchanged lot are thought to differ by up to ${within}; this rack has too few to tell.`
      : `By ${plural(ofRack.length, 'visit', 'visits')} and ${plural(lots.size, 'lot', 'lots')} of this rack, two photographs of an unchanged lot differ by up to ${within} (95 of 100 times).`;
  const shift =
    Math.abs(last.shift) < 0.5
      ? []
      : [
          `The rack as a whole looked ${lStar(Math.abs(last.shift))} ${last.shift > 0 ? 'lighter' : 'darker'} than usual last time; that is taken out.`,
        ];
  return [judgedWords(judged, visits.length, told), ...shift, learnt];
}

function judgedWords(judged: Lightening | NotJudged, visits: number, { asked, timeZone }: Told): string {
  if (typeof judged === 'string')
    return visits >= LEAST_VISITS + 2
      ? 'Its own line begins anew: it was cut or looked at since, and needs more photographs.'
      : `Too few photographs to compare it with itself: ${LEAST_VISITS + 2} visits are needed, ${plural(visits, 'is', 'are')} there.`;
  const days = judged.days.map((day) => dateWords(dateAtDay(day), timeZone)).join(' and ');
  if (tellLightening(judged, asked) === 'told')
    return `Lighter than its own line by ${lStar(judged.mean)}, ${numberWords(100 * judged.share, 0)} % of the way to white, on ${days}.`;
  const by = Math.abs(judged.mean);
  if (Math.abs(judged.sure) < asked.sure)
    return 'As white as its own line, as far as two photographs can tell.';
  return `${judged.mean > 0 ? 'Lighter' : 'Darker'} than its own line by ${lStar(by)} on ${days}.`;
}

interface Clock {
  timeZone: string;
  now: Date;
}

/** Widths of the charts, and how high they are (own choices). */
const draw = (chart: TimeChart) => ({
  wide: timeChart({ ...chart, width: 960, height: 210 }),
  narrow: timeChart({ ...chart, width: 360, height: 210 }),
});

/** Each visit less the rack's shift, its own line, and as measured thin; refused ones as crosses. Null for fewer than two. */
function whitenessChart(
  { scatter }: RackSeries,
  visits: readonly LotVisit[],
  judged: Lightening | NotJudged,
  measures: readonly LotMeasure[],
  { timeZone, now }: Clock,
) {
  const [first] = visits;
  if (first === undefined || visits.length < 2) return null;
  const at = (day: number) => dateAtDay(day);
  const from = at(first.day);
  const refused = measures.flatMap(({ takenAt, whiteness, refuseReason }): ChartPoint[] =>
    refuseReason === null || whiteness === null || takenAt < from
      ? []
      : [{ at: takenAt, value: whiteness, error: 0, kind: 'refuted' }],
  );
  const line =
    typeof judged === 'string'
      ? []
      : [
          {
            mark: 'line series-2',
            points: [from, now].map((one) => ({ at: one, value: judged.line })),
          },
        ];
  const last = visits.at(-1) as LotVisit;
  return draw({
    label: `Whiteness ${lStar(last.L)} at the last photograph${typeof judged === 'string' ? '' : `, its own line ${lStar(judged.line)}`}.`,
    ...{ from, to: now, timeZone },
    points: [
      ...visits.map(
        ({ day, L, shiftSd }): ChartPoint => ({
          ...{ at: at(day), value: L, kind: 'plain' },
          error: Math.hypot(scatter.sd, shiftSd),
        }),
      ),
      ...refused,
    ],
    courses: [
      ...line,
      { mark: 'thread', points: visits.map(({ day, raw }) => ({ at: at(day), value: raw })) },
    ],
  });
}

/** The area of each photograph that counts, with its interval. Null for fewer than two. */
function areaChart(measures: readonly LotMeasure[], { timeZone, now }: Clock) {
  const counted = measures
    .filter(({ areaMm2, refuseReason }) => areaMm2 !== null && refuseReason === null)
    .toReversed();
  const [first] = counted;
  const last = counted.at(-1);
  if (first === undefined || last === undefined || counted.length < 2) return null;
  return draw({
    label: `It covers ${numberWords(last.areaMm2 ?? 0, 0)} mm² seen from above.`,
    ...{ from: first.takenAt, to: now, timeZone },
    points: counted.map(({ takenAt, areaMm2, areaLowMm2, areaHighMm2 }) => ({
      ...{ at: takenAt, value: areaMm2 as number, error: 0, kind: 'plain' as const },
      range: [areaLowMm2 as number, areaHighMm2 as number] as const,
    })),
  });
}

/** One photograph in numbers. */
function rowOf(measure: LotMeasure, visits: readonly LotVisit[]) {
  const { id, takenAt, photoId, whiteness, whitenessError, areaMm2, leftOut, refuseReason } = measure;
  const counted = refuseReason === null && leftOut === null;
  const visit = counted ? visits.find(({ day }) => Math.abs(day - dayOf(takenAt)) < 1 / 24) : undefined;
  return {
    ...{
      href: `/rack-photograph-lots/${id}`,
      at: takenAt,
      photoId,
      rack: measure.rackName,
      slots: measure.slots,
    },
    whiteness:
      whiteness === null ? '' : `${numberWords(whiteness, 1)} ±${numberWords(whitenessError ?? 0, 1)}`,
    less: visit === undefined ? '' : numberWords(visit.L, 1),
    area:
      areaMm2 === null
        ? ''
        : `${numberWords(areaMm2, 0)} (${numberWords(measure.areaLowMm2 ?? 0, 0)} to ${numberWords(measure.areaHighMm2 ?? 0, 0)})`,
    height: areaMm2 !== null && !measure.cameraKnown,
    why: leftOut === null ? '' : (leftOutWords[leftOut as keyof typeof leftOutWords] ?? leftOut),
    refused: refuseReason ?? '',
  };
}
