import type pg from 'pg';
import type { SystemQuantity } from '../generated/prisma/client.ts';
import type { Reader } from '../platform/service.ts';
import { type Dose, listDoses } from './doses.ts';
import { type Feeding, listFeedings } from './feedings.ts';
import { listQuantities, type Quantity } from './quantities.ts';
import { type LatestReading, latestReadings, readingSeries, type SeriesReading } from './readings.ts';
import { listTargets } from './targets.ts';
import { listWaterChanges, type WaterChange } from './water-changes.ts';

/** A kit opened while a quantity was looked at. */
export interface Opening {
  at: Date;
  label: string;
}

/** A reading that waits for a second one. */
export interface Waiting {
  id: string;
  quantityCode: string;
  at: Date;
  value: number;
  below: boolean;
  uncertainty: number;
  trustReason: string;
}

/** What the page of one system shows of one quantity over some days. */
export interface SystemView {
  quantities: Quantity[];
  quantity: Quantity;
  latest: Map<string, LatestReading>;
  targets: Map<string, SystemQuantity>;
  series: SeriesReading[];
  openings: Opening[];
  changes: WaterChange[];
  doses: Dose[];
  feedings: Feeding[];
  waiting: Waiting[];
}

/** Entries of each log that are drawn as ticks; more than that would be a black bar. */
const mostTicks = 5000;

/** Kits of this quantity opened in the period that were used on this system. */
const openings = `
  SELECT kit.opened_at AS at, kit.label FROM kit JOIN method ON method.id = kit.method_id
   WHERE method.quantity_code = $2 AND kit.opened_at BETWEEN $3 AND $4
     AND EXISTS (SELECT 1 FROM reading WHERE reading.system_id = $1 AND reading.quantity_code = $2 AND reading.kit_id = kit.id)
   ORDER BY kit.opened_at`;

/** A reading that nothing answered within a week is history: it stays unconfirmed, and is no longer asked about. */
const waiting = `
  SELECT reading.id, quantity_code AS "quantityCode", at, value, below_detection AS below, uncertainty, trust_reason AS "trustReason"
    FROM reading JOIN quantity ON quantity.code = quantity_code
   WHERE system_id = $1 AND trust = 'unconfirmed' AND voided_at IS NULL AND at > $2::timestamptz - interval '7 days' AND at <= $2
   ORDER BY quantity.position, at DESC`;

/** Reads everything for the page; the first quantity with readings when none is named. */
export async function readSystem(
  { db, pool }: { db: Reader; pool: pg.Pool },
  { systemId, code, from, to }: { systemId: string; code: string; from: Date; to: Date },
): Promise<SystemView> {
  const [quantities, latest, targets] = await Promise.all([
    listQuantities(db),
    latestReadings(pool, [systemId]),
    listTargets(db, systemId),
  ]);
  const own = latest.get(systemId) ?? new Map<string, LatestReading>();
  const quantity =
    quantities.find((one) => one.code === code) ??
    quantities.find((one) => own.has(one.code)) ??
    quantities[0];
  if (quantity === undefined) throw new Error('there are no quantities; load the care library');
  const period = { systemId, from, to, limit: mostTicks };
  const [series, opened, changes, doses, feedings, waits] = await Promise.all([
    readingSeries(pool, { systemId, quantityCode: quantity.code, from, to, withVoided: true }),
    pool.query<Opening>(openings, [systemId, quantity.code, from, to]),
    listWaterChanges(pool, period),
    listDoses(pool, period),
    listFeedings(pool, period),
    pool.query<Waiting>(waiting, [systemId, to]),
  ]);
  return {
    quantities,
    quantity,
    latest: own,
    targets,
    series,
    openings: opened.rows,
    changes,
    doses,
    feedings,
    waiting: waits.rows,
  };
}
