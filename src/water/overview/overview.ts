import type pg from 'pg';
import type { SystemQuantity } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { type Corrected, withCorrected } from '../kits/bias.ts';
import { type LatestReading, latestReadings } from '../readings/readings.ts';
import { openAlertsOf, type SystemAlert } from '../systems/open-alerts.ts';

/** One system in the list. */
export interface ListedSystem {
  id: string;
  name: string;
  volumeL: number;
  tanks: number;
}

/** One point of a small line of history. */
export interface HistoryPoint {
  systemId: string;
  quantityCode: string;
  at: Date;
  value: number;
  below: boolean;
  uncertainty: number;
  kitId: string | null;
  trust: string;
}

const systems = `
  SELECT system.id, system.name, system.volume_l AS "volumeL", count(tank.id)::int AS tanks
    FROM system LEFT JOIN tank ON tank.system_id = system.id
   WHERE system.site_id = $1 AND system.retired_at IS NULL
   GROUP BY system.id ORDER BY system.position, system.name`;

const lines = `
  SELECT system_id AS "systemId", quantity_code AS "quantityCode", at, value, below_detection AS below, uncertainty, kit_id AS "kitId", trust::text
    FROM reading
   WHERE system_id = ANY($1::uuid[]) AND quantity_code = ANY($2::text[]) AND at > $3 AND at <= $4 AND voided_at IS NULL AND trust <> 'refuted'
   ORDER BY at, created_at`;

export interface Overview {
  systems: ListedSystem[];
  latest: Map<string, Map<string, LatestReading & { corrected: Corrected | null }>>;
  targets: SystemQuantity[];
  alerts: SystemAlert[];
  history: HistoryPoint[];
}

/** Days that the small lines of history reach back. */
export const historyDays = 30;

/** Everything the list of systems shows, with a line of history of the given quantities. Readings of kits that are known to read
 * wrong are corrected. Nine queries. */
export async function readOverview(
  db: Reader,
  pool: pg.Pool,
  siteId: string,
  codes: readonly string[],
  now: Date,
): Promise<Overview> {
  const listed = (await pool.query<ListedSystem>(systems, [siteId])).rows;
  const ids = listed.map((system) => system.id);
  const from = daysBefore(now, historyDays);
  const [latest, targets, open, history] = await Promise.all([
    latestReadings(pool, ids),
    db.systemQuantity.findMany({ where: { systemId: { in: ids } } }),
    openAlertsOf(pool, ids, now),
    pool.query<HistoryPoint>(lines, [ids, [...codes], from, now]),
  ]);
  const [right, past] = await Promise.all([
    withCorrected(
      pool,
      [...latest.values()].flatMap((own) => [...own.values()]),
    ),
    withCorrected(pool, history.rows),
  ]);
  return {
    systems: listed,
    latest: new Map(
      [...Map.groupBy(right, (one) => one.systemId)].map(([id, own]) => [
        id,
        new Map(own.map((one) => [one.quantityCode, one])),
      ]),
    ),
    targets,
    alerts: open,
    history: past.map((point) => ({ ...point, value: point.corrected?.value ?? point.value })),
  };
}
