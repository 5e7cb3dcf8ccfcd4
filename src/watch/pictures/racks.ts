import type { Alert } from '../../alerts/alerts.ts';
import { listSettings } from '../../farm/lamps/lamps.ts';
import type { ChartPoint } from '../../platform/charts/chart-marks.ts';
import type { BarLane } from '../../platform/charts/lanes.ts';
import { type TimeChart, timeChart } from '../../platform/charts/time-chart.ts';
import { localDay, momentOf } from '../../platform/days.ts';
import type { Service } from '../../platform/service.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords, whenWords } from '../../platform/words/times.ts';
import { drawRackMap } from '../../racks/drawing/rack-map.ts';
import { daysAfter, daysBefore } from '../../science/numeric/time.ts';
import { calledBy } from '../../stock/base/codes.ts';
import { lotHref } from '../../stock/base/lot-href.ts';
import { occupantsOf, type SlotOccupancy, slotOccupancy } from '../../stock/places/occupancy.ts';
import { type AlertPicture, type Clock, type Drawing, narrowWidth, noPicture, wideWidth } from './picture.ts';

/** More racks than this are only counted (own choice). */
const mostRacks = 3;

interface DrawnRack {
  id: string;
  name: string;
  rows: number;
  columns: number;
}

const rackQuery = `
  SELECT rack.id, rack.name, rack.rows, rack.columns FROM rack
   WHERE rack.id = $1 OR rack.lamp_id = $1
      OR rack.id IN (SELECT rack_id FROM lot_place WHERE lot_id = ANY($2::uuid[]))
   ORDER BY (SELECT count(DISTINCT lot_id) FROM lot_place WHERE rack_id = rack.id AND lot_id = ANY($2::uuid[])) DESC,
            rack.position, rack.name`;

const photoQuery = `
  SELECT DISTINCT ON (lot_id) lot_id AS "lotId", id FROM photo
   WHERE lot_id = ANY($1::uuid[]) AND voided_at IS NULL ORDER BY lot_id, taken_at DESC`;

type Severity = Alert['severity'];

/** The lots an alert is about, with the urgency each is told with: its own, its finding's, and those it explains. */
function meantLots(alert: Alert, explains: readonly Alert[]): Map<string, Severity> {
  const named = alert.subjectType === 'lot' ? [alert.subjectId, ...alert.finding.lots] : alert.finding.lots;
  const own = named.map((id): [string, Severity] => [id, alert.severity]);
  const others = explains
    .filter(({ subjectType }) => subjectType === 'lot')
    .toReversed()
    .map(({ subjectId, severity }): [string, Severity] => [subjectId, severity]);
  return new Map([...own, ...others]);
}

/** The racks of the lots, or beneath the lamps, with the lots that are meant ringed. */
export async function rackPicture(
  { pool, db }: Service,
  alert: Alert,
  explains: readonly Alert[],
  clock: Clock,
): Promise<AlertPicture> {
  const meant = meantLots(alert, explains);
  const picture = await racksOfLots(pool, meant, clock, alert.subjectId);
  if (alert.subjectType !== 'lamp') return picture;
  const lamp = await lampDrawing({ pool, db }, alert, [...meant.keys()], clock);
  return { ...picture, drawings: [...picture.drawings, ...lamp] };
}

/** The racks of lots, these ringed; beside them the rack or the lamps' racks of that id. Four queries at most. */
export async function racksOfLots(
  pool: Service['pool'],
  meant: ReadonlyMap<string, Severity>,
  clock: Clock,
  besideId: string | null = null,
): Promise<AlertPicture> {
  const racks = (await pool.query<DrawnRack>(rackQuery, [besideId, [...meant.keys()]])).rows;
  if (racks.length === 0) return noPicture;
  const shown = racks.slice(0, mostRacks);
  const slots = await slotOccupancy(
    pool,
    shown.map(({ id }) => id),
    clock.now,
  );
  const lots = occupantsOf(slots).map(({ lot }) => lot.id);
  const photos = (await pool.query<{ lotId: string; id: string }>(photoQuery, [lots])).rows;
  const photoOf = new Map(photos.map(({ lotId, id }) => [lotId, id]));
  const several = shown.length > 1;
  const maps = shown.map((rack) => ({
    ...mapOf(rack, slots, meant, photoOf),
    ...(several && { name: rack.name }),
  }));
  return {
    ...noPicture,
    drawings: maps,
    legend: legendOf(slots, meant, racks.length - shown.length),
    table: tableOf(slots, meant),
  };
}

function mapOf(
  rack: DrawnRack,
  all: readonly SlotOccupancy[],
  meant: ReadonlyMap<string, Severity>,
  photos: ReadonlyMap<string, string>,
): Drawing {
  const slots = all.filter(({ rackId }) => rackId === rack.id);
  const here = new Set(slots.flatMap(({ lot }) => (lot !== null && meant.has(lot.id) ? [lot.id] : [])));
  const says = `${rack.name} from above: ${plural(here.size, 'lot', 'lots')} marked, light as the tone of each slot.`;
  const map = { label: says, ...rack, slots, meant, photos };
  return {
    wide: drawRackMap({ ...map, width: wideWidth }),
    narrow: drawRackMap({ ...map, width: narrowWidth }),
    says: `${rack.name}, from above. The lighter a slot, the more light it gets.`,
  };
}

const legendWords: Record<Severity, [string, string]> = {
  now: ['lot to act on now', 'lots to act on now'],
  today: ['lot for today', 'lots for today'],
  watch: ['lot only watched', 'lots only watched'],
};

function legendOf(
  slots: readonly SlotOccupancy[],
  meant: ReadonlyMap<string, Severity>,
  further: number,
): AlertPicture['legend'] {
  const here = occupantsOf(slots).map(({ lot }) => meant.get(lot.id) ?? ('other' as const));
  const count = (severity: string) => here.filter((one) => one === severity).length;
  const marked = (['now', 'today', 'watch'] as const).flatMap((severity) =>
    count(severity) === 0 ? [] : [{ severity, text: plural(count(severity), ...legendWords[severity]) }],
  );
  const others = count('other');
  const rest = others === 0 ? [] : [{ severity: 'other' as const, text: `${others} more here` }];
  const racks =
    further === 0
      ? []
      : [{ severity: 'other' as const, text: `${plural(further, 'more rack', 'more racks')}` }];
  const figures = slots.some(({ lot, light }) => lot === null && light !== null)
    ? [{ severity: 'other' as const, text: 'Numbers: light in PAR' }]
    : [];
  return [...marked, ...rest, ...racks, ...figures];
}

const severityWords: Record<Severity, string> = { now: 'act now', today: 'today', watch: 'only watched' };

function tableOf(
  slots: readonly SlotOccupancy[],
  meant: ReadonlyMap<string, Severity>,
): AlertPicture['table'] {
  const lots = occupantsOf(slots).filter(({ lot }) => meant.has(lot.id));
  if (lots.length === 0) return null;
  const rows = lots.map(({ lot, slots: taken }) => [
    { text: calledBy(lot), href: lotHref(lot.code) },
    { text: lot.kind, href: '' },
    { text: taken.map(({ name }) => name).join(', '), href: '' },
    { text: lightOf(taken), href: '' },
    { text: severityWords[meant.get(lot.id) ?? 'watch'], href: '' },
  ]);
  return {
    title: rows.length === 1 ? 'The lot' : `The ${rows.length} lots`,
    head: ['Lot', 'Kind', 'Slots', 'Light, µmol/(m² s)', 'How urgent'],
    rows,
  };
}

function lightOf(slots: readonly SlotOccupancy[]): string {
  const known = slots.flatMap(({ light }) => light ?? []);
  if (known.length === 0) return 'not known';
  const mean = known.reduce((sum, { par }) => sum + par, 0) / known.length;
  return `${numberWords(Math.round(mean))}${known.some(({ estimated }) => estimated) ? ', scaled' : ''}`;
}

const signsQuery = `
  SELECT lot_id AS "lotId", min(at) AS at FROM condition
   WHERE lot_id = ANY($1::uuid[]) AND voided_at IS NULL AND state IN ('paling', 'bleached') AND at > $2 GROUP BY lot_id`;

/** Days of lamp settings before the last turn that are drawn; own choice. */
const lampDays = 18;

/** The setting of the lamps over time, with the lots first seen pale or bleached since they were turned. */
async function lampDrawing(
  { pool, db }: Pick<Service, 'pool' | 'db'>,
  alert: Alert,
  lotIds: readonly string[],
  { timeZone, now }: Clock,
): Promise<Drawing[]> {
  const settings = (await listSettings(db, alert.subjectId)).toReversed();
  const last = settings.at(-1);
  const turned = settings.findLast(({ at }) => at <= alert.openedAt) ?? last;
  if (last === undefined || turned === undefined) return [];
  const from = daysBefore(turned.at, lampDays);
  const signs = (await pool.query<{ at: Date }>(signsQuery, [lotIds, turned.at])).rows;
  const points = settings.map(({ at, percent }) => ({ at, value: percent }));
  const course = [
    ...points
      .filter(({ at }) => at <= from)
      .slice(-1)
      .map(({ value }) => ({ at: from, value })),
    ...points.filter(({ at }) => at > from),
    { at: now, value: last.percent },
  ];
  const answer = alert.finding.answer ?? null;
  const asked = answer !== null && answer.confirmedAt === null ? new Date(answer.dueAt) : null;
  const day = whenWords(localDay(turned.at, timeZone), timeZone, now);
  const before = settings.findLast(({ at }) => at < turned.at);
  const label = `Lamps over time: ${before === undefined ? '' : `${before.percent} % until ${day}, then `}${turned.percent} %; ${last.percent} % now.${signs.length === 0 ? '' : ` ${plural(signs.length, 'lot was', 'lots were')} first seen pale since ${dateWords(turned.at, timeZone)}.`}`;
  const chart: TimeChart = {
    label,
    from,
    to: asked !== null && asked > now ? daysAfter(asked, 1) : now,
    timeZone,
    points: [] as ChartPoint[],
    courses: [{ mark: 'line gets', stepped: true, points: course }],
    band: null,
    markers: [
      ...(answer === null ? [] : [{ at: new Date(answer.at), text: 'done' }]),
      ...(asked === null ? [] : [{ at: asked, text: 'measure by then' }]),
    ],
    wash: {
      from: turned.at,
      surely: turned.at,
      to: now,
      text: `${turned.percent} % since ${day}`,
      tone: alert.severity,
    },
    lanes: signsLane(signs, timeZone),
  };
  return [
    {
      wide: timeChart({ ...chart, width: wideWidth, height: 210 }),
      narrow: timeChart({ ...chart, width: narrowWidth, height: 210 }),
      says: label,
    },
  ];
}

/** How many lots had been seen pale by each day on which one more was. */
function signsLane(signs: readonly { at: Date }[], timeZone: string): BarLane[] {
  if (signs.length === 0) return [];
  const days = [...Map.groupBy(signs, ({ at }) => localDay(at, timeZone))].sort(([a], [b]) =>
    a.localeCompare(b),
  );
  let seen = 0;
  const bars = days.map(([day, all]) => {
    seen += all.length;
    return { at: momentOf(day, '12:00', timeZone), value: seen };
  });
  return [{ name: `Lots seen pale so far: ${signs.length}`, bars, usual: null }];
}
