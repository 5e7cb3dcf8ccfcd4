import type pg from 'pg';
import { listEvents } from '../../farm/events/events.ts';
import { type OffSpan, offBetween } from '../../farm/switched-off/lists.ts';
import type { SystemEvent, SystemQuantity } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { isBiased } from '../kits/bias.rules.ts';
import { type KitBias, kitBiases } from '../kits/bias.ts';
import { type Dose, listDoses } from '../log/doses.ts';
import { type Feeding, listFeedings } from '../log/feedings.ts';
import { listWaterChanges, type WaterChangeEntry } from '../log/water-changes.ts';
import { listQuantities, type Quantity } from '../quantities/quantities.ts';
import { type LatestReading, latestReadings } from '../readings/series.ts';
import { type SourceReadings, sourceParts } from '../readings/sources.ts';
import { openAlertsOf, type SystemAlert } from '../systems/open-alerts.ts';
import { listTargets } from '../targets/targets.ts';
import { type KeptProbeDoubt, probeDoubtsOf } from '../trust/probe-doubts.ts';
import { daysAhead, forecastOf, type LevelForecast, type StandingStill } from './forecast.rules.ts';
import { readForecastHistories } from './forecast.ts';

/** A kit that a quantity was read with here. */
export interface UsedKit {
  id: string;
  label: string;
  openedAt: Date;
}

/** An unconfirmed reading that a second test would settle. */
export interface UnconfirmedReading {
  id: string;
  quantityCode: string;
  at: Date;
  value: number;
  below: boolean;
  above: boolean;
  uncertainty: number;
  trustReason: string;
}

/** A tank of the system, with its number of racks. */
export interface TankSummary {
  id: string;
  name: string;
  racks: number;
}

/** What the page of one system shows of one quantity over some days. */
export interface SystemView {
  quantities: Quantity[];
  quantity: Quantity;
  latest: Map<string, LatestReading>;
  targets: Map<string, SystemQuantity>;
  parts: SourceReadings[];
  kits: UsedKit[];
  /** What changed the habits of the water. */
  events: SystemEvent[];
  /** What was switched off within the days shown. */
  off: OffSpan[];
  biases: Map<string, KitBias>;
  forecast: LevelForecast | null;
  /** What is off for now and moves the level: why there is no forecast. */
  standing: readonly StandingStill[];
  changes: WaterChangeEntry[];
  doses: Dose[];
  feedings: Feeding[];
  unconfirmed: UnconfirmedReading[];
  alerts: SystemAlert[];
  /** Probes of the quantity that have no vote. */
  doubts: KeptProbeDoubt[];
  tanks: TankSummary[];
  /** When the quantity was first read here; null for never. */
  since: Date | null;
}

/** Entries of each log drawn as ticks: more would only blacken the axis. Own choice. */
const maxTicks = 5000;

/** Kits that the quantity was read with here, in the period or in the year that a forecast looks back. */
const kitsQuery = `
  SELECT kit.id, kit.label, kit.opened_at AS "openedAt" FROM kit JOIN method ON method.id = kit.method_id
   WHERE method.quantity_code = $2
     AND EXISTS (SELECT 1 FROM reading WHERE reading.system_id = $1 AND reading.quantity_code = $2 AND reading.kit_id = kit.id
                    AND reading.at > least($3::timestamptz, $4::timestamptz - interval '400 days') AND reading.at <= $4)
   ORDER BY kit.opened_at, kit.label, kit.id`;

const firstReadingQuery = `
  SELECT min(at) AS since FROM reading
   WHERE system_id = $1 AND quantity_code = $2 AND voided_at IS NULL AND trust <> 'refuted' AND slot_id IS NULL`;

/** Unconfirmed readings of the last week, but for those of a probe without a vote: to repeat it settles nothing. An older one stays unconfirmed, but nobody is asked to repeat it any more. */
const unconfirmedQuery = `
  SELECT reading.id, quantity_code AS "quantityCode", at, value, below_detection AS below, above_scale AS above, uncertainty, trust_reason AS "trustReason"
    FROM reading_with_vote AS reading JOIN quantity ON quantity.code = quantity_code
   WHERE system_id = $1 AND trust = 'unconfirmed' AND voided_at IS NULL AND at > $2::timestamptz - interval '7 days' AND at <= $2
   ORDER BY quantity.position, at DESC`;

const tanksQuery = `
  SELECT tank.id, tank.name, count(rack.id)::int AS racks FROM tank LEFT JOIN rack ON rack.tank_id = tank.id
   WHERE tank.system_id = $1 GROUP BY tank.id ORDER BY tank.position, tank.name`;

/** Which quantity of which system, over what time. */
interface SystemQuery {
  systemId: string;
  code: string;
  from: Date;
  to: Date;
  timeZone: string;
}

/** Reads everything for the page: of the quantity named, else of the first one with readings. */
export async function readSystem(
  { db, pool }: { db: Reader; pool: pg.Pool },
  query: SystemQuery,
): Promise<SystemView> {
  const { systemId, from, to } = query;
  const [quantities, latest, targets] = await Promise.all([
    listQuantities(db),
    latestReadings(pool, [systemId]),
    listTargets(db, systemId),
  ]);
  const own = latest.get(systemId) ?? new Map<string, LatestReading>();
  const quantity =
    quantities.find((one) => one.code === query.code) ??
    quantities.find((one) => own.has(one.code)) ??
    quantities[0];
  if (quantity === undefined) throw new Error('there are no quantities; load the care library');
  const period = { systemId, from, to, limit: maxTicks };
  const [measured, changes, doses, feedings, unconfirmed, first, alerts, tanks, events, off, doubts] =
    await Promise.all([
      readMeasured(pool, { ...query, code: quantity.code }, quantity),
      listWaterChanges(pool, period),
      listDoses(pool, period),
      listFeedings(pool, period),
      pool.query<UnconfirmedReading>(unconfirmedQuery, [systemId, to]),
      pool.query<{ since: Date | null }>(firstReadingQuery, [systemId, quantity.code]),
      openAlertsOf(pool, [systemId], to),
      pool.query<TankSummary>(tanksQuery, [systemId]),
      listEvents(db, systemId),
      offBetween(pool, systemId, from, to),
      probeDoubtsOf(pool, [systemId]),
    ]);
  return {
    quantities,
    quantity,
    latest: own,
    targets,
    ...measured,
    changes,
    doses,
    feedings,
    unconfirmed: unconfirmed.rows,
    alerts,
    doubts: doubts.filter(({ quantityCode }) => quantityCode === quantity.code),
    tanks: tanks.rows,
    events,
    off,
    since: first.rows[0]?.since ?? null,
  };
}

/** The readings by source, the bias of their kits, and the forecast made from them. */
async function readMeasured(pool: pg.Pool, query: SystemQuery, quantity: Quantity) {
  const { systemId, code, from, to } = query;
  const kits = (await pool.query<UsedKit>(kitsQuery, [systemId, code, from, to])).rows;
  const biases = await kitBiases(
    pool,
    kits.map((kit) => kit.id),
  );
  const wrong = new Map(
    [...biases].flatMap(([id, kit]) => (isBiased(kit) ? [[id, 1 + kit.bias] as const] : [])),
  );
  const [parts, histories] = await Promise.all([
    sourceParts(pool, { ...query, wrong }),
    readForecastHistories(pool, { systemIds: [systemId], code, now: to }),
  ]);
  const days = daysBetween(from, to);
  const history = histories.get(systemId);
  const forecast = history === undefined ? null : forecastOf(quantity, history, to, daysAhead(code, days));
  return { parts, kits, biases, forecast, standing: history?.off ?? [] };
}
