import type pg from 'pg';
import type { Severity } from '../../generated/prisma/enums.ts';
import type { SmallPicture, SmallRack } from '../../platform/charts/small-chart.ts';
import type { Reader } from '../../platform/service.ts';
import type { Figure } from '../../platform/words/figures.ts';
import { plural } from '../../platform/words/numbers.ts';
import { daysAfter, daysBefore } from '../../science/numeric/time.ts';
import { NITRATE_DAYS_AHEAD as horizon } from '../../water/estimates/nitrate.rules.ts';
import { withBiasCorrection } from '../../water/kits/bias.ts';
import { votingReadings } from '../../water/probe-days/voting.ts';
import { farmValue, listQuantities, type Quantity, say } from '../../water/quantities/quantities.ts';
import { quantityOfAlert } from './quantity.rules.ts';
import { smallUses } from './use.ts';

/** What of an alert its small picture is made from. */
export interface PicturedAlert {
  id: string;
  rule: string;
  facet: string;
  subjectType: string;
  subjectId: string;
  systemId: string;
  severity: Severity;
  lots: readonly string[];
  began: { from: string; to: string } | null;
  openedAt: Date;
  /** The figure it goes by, in the farm's unit: of nitrate that rises the forecast. */
  number?: { value: number };
  /** The figures that it says. */
  said?: readonly Figure[];
}

/** Days that small pictures reach back, as the small lines of the overview do. */
const shownDays = 30;
/** The same where a forecast is drawn beside them. */
const shownBeforeForecast = 60;
const mostTests = 8;
/** More racks than this are not drawn beside each other (own choice). */
const mostRacks = 4;

interface Point {
  systemId: string;
  quantityCode: string;
  at: Date;
  value: number;
  uncertainty: number;
  kitId: string | null;
  below: boolean;
  above: boolean;
}

const readingQuery = `
  SELECT system_id AS "systemId", quantity_code AS "quantityCode", at, value, uncertainty, kit_id AS "kitId", below_detection AS below, above_scale AS above
    ${votingReadings({ systems: '$1', codes: '$2', since: '$3', until: '$4' })}
   WHERE (system_id, quantity_code) IN (SELECT * FROM unnest($1::uuid[], $2::text[])) AND voided_at IS NULL AND trust <> 'refuted' AND NOT below_detection
   ORDER BY at`;

const bandQuery = `
  SELECT system_id AS "systemId", quantity_code AS "quantityCode", band_low AS low, band_high AS high FROM system_quantity
   WHERE (system_id, quantity_code) IN (SELECT * FROM unnest($1::uuid[], $2::text[]))`;

const lampQuery = `
  SELECT lamp_id AS "lampId", at, percent FROM lamp_setting WHERE lamp_id = ANY($1::uuid[]) ORDER BY at`;

const kitQuery = `
  SELECT kit_id AS "kitId", at, standard_value AS truth, value AS shown FROM check_reading WHERE kit_id = ANY($1::uuid[]) AND voided_at IS NULL
   UNION ALL
  SELECT kit_id, at, old_value, value FROM kit_pair WHERE kit_id = ANY($1::uuid[]) AND voided_at IS NULL
   ORDER BY at`;

// Of each alert the racks that most of its lots stand on, or the rack itself; then what stands on these few, rack by rack, so
// that no other lot of the farm is read.
const rackQuery = `
  WITH asked AS (
    SELECT * FROM unnest($1::uuid[], $2::uuid[]) AS asked(alert_id, thing_id)
  ), ranked AS (
    SELECT asked.alert_id, rack.id AS rack_id, rack.rows, rack.columns,
           row_number() OVER (PARTITION BY asked.alert_id ORDER BY count(DISTINCT asked.thing_id) DESC, rack.position, rack.name, rack.id) AS rank
      FROM asked
      LEFT JOIN LATERAL (SELECT id FROM placement WHERE lot_id = asked.thing_id AND to_at IS NULL OFFSET 0) AS placement ON true
      LEFT JOIN placement_slot AS taken ON taken.placement_id = placement.id
      LEFT JOIN slot ON slot.id = taken.slot_id
      JOIN rack ON rack.id = coalesce(slot.rack_id, asked.thing_id)
     GROUP BY asked.alert_id, rack.id
  )
  SELECT ranked.alert_id AS "alertId", ranked.rack_id AS "rackId", ranked.rows, ranked.columns, here.lot_id AS "lotId", here.row, here."column"
    FROM ranked
    LEFT JOIN LATERAL (
      SELECT placement.lot_id, slot.row, slot."column"
        FROM slot JOIN placement_slot AS taken ON taken.slot_id = slot.id AND taken.to_at IS NULL
        JOIN placement ON placement.id = taken.placement_id AND placement.to_at IS NULL
       WHERE slot.rack_id = ranked.rack_id OFFSET 0) AS here ON true
   WHERE ranked.rank <= ${mostRacks} ORDER BY ranked.alert_id, ranked.rank, here.row, here."column"`;

interface RackRow {
  alertId: string;
  rackId: string;
  rows: number;
  columns: number;
  lotId: string | null;
  row: number | null;
  column: number | null;
}

/** A picture for each alert that has one, by its id. At most eight queries, however many alerts, and eleven more where one is on use. */
export async function smallPictures(
  { pool, db }: { pool: pg.Pool; db: Reader },
  alerts: readonly PicturedAlert[],
  now: Date,
): Promise<Map<string, SmallPicture>> {
  if (alerts.length === 0) return new Map();
  const [quantities, courses, lamps, kits, racks] = await Promise.all([
    listQuantities(db),
    readCourses(pool, alerts, now),
    readLamps(pool, alerts),
    readKits(pool, alerts),
    readRacks(pool, alerts),
  ]);
  const onUse = alerts.filter(({ rule }) => rule === 'demand-changed').map(({ systemId }) => systemId);
  const alkalinity = quantities.find(({ code }) => code === 'alkalinity');
  const uses = await smallUses(pool, [...new Set(onUse)], alkalinity, now);
  const pictures = alerts.flatMap((alert): [string, SmallPicture][] => {
    const picture =
      lampPicture(alert, lamps, now) ??
      pairsPicture(alert, kits) ??
      rackPicture(alert, racks) ??
      usePictureOf(alert, uses) ??
      coursePicture(alert, courses, quantities, now);
    return picture === null ? [] : [[alert.id, picture]];
  });
  return new Map(pictures);
}

const usePictureOf = (
  { rule, systemId }: PicturedAlert,
  uses: Awaited<ReturnType<typeof smallUses>>,
): SmallPicture | null => (rule === 'demand-changed' ? (uses.get(systemId) ?? null) : null);

async function readCourses(pool: pg.Pool, alerts: readonly PicturedAlert[], now: Date) {
  const asked = alerts.flatMap((alert) => {
    const code = alert.subjectType === 'system' ? quantityOfAlert(alert) : null;
    return code === null ? [] : [{ systemId: alert.systemId, code }];
  });
  const keys = [asked.map(({ systemId }) => systemId), asked.map(({ code }) => code)];
  const [readings, bands] = await Promise.all([
    pool.query<Point>(readingQuery, [...keys, daysBefore(now, shownBeforeForecast), now]),
    pool.query<{ systemId: string; quantityCode: string; low: number | null; high: number | null }>(
      bandQuery,
      keys,
    ),
  ]);
  return { readings: await withBiasCorrection(pool, readings.rows), bands: bands.rows };
}

function coursePicture(
  alert: PicturedAlert,
  { readings, bands }: Awaited<ReturnType<typeof readCourses>>,
  quantities: readonly Quantity[],
  now: Date,
): SmallPicture | null {
  const { systemId, rule, facet, subjectType, began, openedAt } = alert;
  const code = subjectType === 'system' ? quantityOfAlert({ rule, facet }) : null;
  const quantity = quantities.find((one) => one.code === code);
  if (quantity === undefined) return null;
  const inFarm = (value: number) => farmValue(quantity, value).value;
  const ahead = aheadOf(alert, inFarm, now);
  const days = ahead === null ? shownDays : shownBeforeForecast;
  const from = daysBefore(now, days).toISOString();
  const own = readings.filter(
    (one) => one.systemId === systemId && one.quantityCode === code && one.at.toISOString() > from,
  );
  const last = own.at(-1);
  if (last === undefined || own.length < 2) return null;
  const points = own.map(({ at, value, corrected }) => ({
    at: at.toISOString(),
    value: inFarm(corrected?.value ?? value),
  }));
  const kept = bands.find((one) => one.systemId === systemId && one.quantityCode === code);
  const band = kept === undefined ? null : inUnit(kept, inFarm);
  const since = began === null ? openedAt.toISOString() : began.to;
  const says = `${quantity.name} over ${days} days, the last test ${say(quantity, last.corrected?.value ?? last.value)}`;
  return {
    ...{ kind: 'course', points, stepped: false, from, band },
    to: ahead?.points.at(-1)?.at ?? now.toISOString(),
    since: since < from ? null : since,
    ...(ahead === null ? { says } : { ahead: ahead.points, says: `${says}; ${ahead.says}` }),
  };
}

const inUnit = (
  { low, high }: { low: number | null; high: number | null },
  inFarm: (value: number) => number,
) => ({ low: low === null ? null : inFarm(low), high: high === null ? null : inFarm(high) });

/** Nitrate that rises: the level it is thought to have and the forecast, as its alert says them. */
function aheadOf(
  { rule, number, said }: PicturedAlert,
  inFarm: (value: number) => number,
  now: Date,
): { points: { at: string; value: number }[]; says: string } | null {
  const level = said?.find(({ name }) => name === 'nitrate.level')?.value;
  if (rule !== 'nitrate-creep' || number === undefined || typeof level !== 'number') return null;
  const then = daysAfter(now, horizon);
  return {
    points: [
      { at: now.toISOString(), value: inFarm(level) },
      { at: then.toISOString(), value: number.value },
    ],
    says: `where it is thought to be now and in ${horizon} days as a dashed line`,
  };
}

const readLamps = async (pool: pg.Pool, alerts: readonly PicturedAlert[]) =>
  (
    await pool.query<{ lampId: string; at: Date; percent: number }>(lampQuery, [
      alerts.filter(({ subjectType }) => subjectType === 'lamp').map(({ subjectId }) => subjectId),
    ])
  ).rows;

function lampPicture(
  { subjectId, began, openedAt }: PicturedAlert,
  settings: Awaited<ReturnType<typeof readLamps>>,
  now: Date,
): SmallPicture | null {
  const own = settings.filter(({ lampId }) => lampId === subjectId);
  const [last, before] = [own.at(-1), own.at(-2)];
  if (last === undefined || before === undefined) return null;
  const since = began === null ? openedAt : new Date(began.to);
  const from = daysBefore(since, shownDays / 2);
  const start = own.findLast(({ at }) => at <= from) ?? own[0];
  const points = [
    { at: from, percent: start?.percent ?? before.percent },
    ...own.filter(({ at }) => at > from),
    { at: now, percent: last.percent },
  ];
  return {
    kind: 'course',
    points: points.map(({ at, percent }) => ({ at: at.toISOString(), value: percent })),
    stepped: true,
    band: null,
    since: since.toISOString(),
    from: from.toISOString(),
    to: now.toISOString(),
    says: `Lamps at ${last.percent} %, before at ${before.percent} %`,
  };
}

const readKits = async (pool: pg.Pool, alerts: readonly PicturedAlert[]) =>
  (
    await pool.query<{ kitId: string; truth: number; shown: number }>(kitQuery, [
      alerts.filter(({ subjectType }) => subjectType === 'kit').map(({ subjectId }) => subjectId),
    ])
  ).rows;

function pairsPicture(
  { subjectId }: PicturedAlert,
  kits: Awaited<ReturnType<typeof readKits>>,
): SmallPicture | null {
  const tests = kits.filter(({ kitId }) => kitId === subjectId).slice(-mostTests);
  if (tests.length === 0) return null;
  const low = tests.filter(({ truth, shown }) => shown < truth).length;
  return {
    kind: 'pairs',
    tests: tests.map(({ truth, shown }) => ({ truth, shown })),
    says: `Beside what is known, this kit showed less in ${low} of ${plural(tests.length, 'test', 'tests')}`,
  };
}

async function readRacks(pool: pg.Pool, alerts: readonly PicturedAlert[]): Promise<RackRow[]> {
  const asked = alerts
    .filter(({ subjectType }) => subjectType !== 'lamp' && subjectType !== 'kit')
    .flatMap(({ id, subjectType, subjectId, lots }) => [
      ...(subjectType === 'lot' || subjectType === 'rack' ? [{ id, thing: subjectId }] : []),
      ...lots.map((thing) => ({ id, thing })),
    ]);
  if (asked.length === 0) return [];
  return (await pool.query<RackRow>(rackQuery, [asked.map(({ id }) => id), asked.map(({ thing }) => thing)]))
    .rows;
}

function rackPicture(
  { id, subjectId, lots, severity }: PicturedAlert,
  racks: readonly RackRow[],
): SmallPicture | null {
  const own = racks.filter(({ alertId }) => alertId === id);
  if (own.length === 0) return null;
  const meant = new Set([subjectId, ...lots]);
  const [rack = { rows: 1, columns: 1, cells: [] }, ...beside] = [
    ...Map.groupBy(own, ({ rackId }) => rackId).values(),
  ].map((rows) => smallRack(rows, meant, severity));
  const marked = new Set(own.flatMap(({ lotId }) => (lotId !== null && meant.has(lotId) ? [lotId] : [])));
  const which = beside.length === 0 ? 'Its rack' : `${beside.length + 1} racks`;
  return {
    ...{ kind: 'rack', ...rack },
    ...(beside.length === 0 ? {} : { beside }),
    says: `${which} from above, ${plural(marked.size, 'lot', 'lots')} marked`,
  };
}

function smallRack(rows: readonly RackRow[], meant: ReadonlySet<string>, severity: Severity): SmallRack {
  const cells = rows.flatMap(({ lotId, row, column }) =>
    lotId === null || row === null || column === null
      ? []
      : [{ row, column, severity: meant.has(lotId) ? severity : '' }],
  );
  return { rows: rows[0]?.rows ?? 1, columns: rows[0]?.columns ?? 1, cells };
}
