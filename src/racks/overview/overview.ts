import type pg from 'pg';
import { lotSeverities } from '../../alerts/lot-alerts.ts';
import type { Severity } from '../../generated/prisma/enums.ts';
import { type StandingRack, standingIn } from '../../stock/places/standing.ts';
import type { RackOverview } from './overview.rules.ts';

const systemsQuery = `
  SELECT id FROM system
   WHERE site_id = $1 AND retired_at IS NULL AND ($2::uuid[] IS NULL OR id IN (SELECT system_id FROM tank WHERE id = ANY($2::uuid[])))
   ORDER BY position, name`;

/** A site's racks, or those in some of its tanks, with what stands on them and what is open about it. Three small queries. */
export async function rackOverview(
  pool: pg.Pool,
  siteId: string,
  now: Date,
  tankIds: readonly string[] | null = null,
): Promise<RackOverview[]> {
  const systemIds = (await pool.query<{ id: string }>(systemsQuery, [siteId, tankIds])).rows.map(
    ({ id }) => id,
  );
  const [standing, severities] = await Promise.all([standingIn(pool, systemIds), lotSeverities(pool, now)]);
  const asked = tankIds === null ? null : new Set(tankIds);
  return [...standing.values()]
    .flat()
    .filter(({ tankId }) => asked?.has(tankId) ?? true)
    .map((rack) => overviewOf(rack, severities));
}

function overviewOf(rack: StandingRack, severities: ReadonlyMap<string, Severity>): RackOverview {
  const { lots, cells, ...itself } = rack;
  const wrong = (severity: Severity) => lots.filter(({ id }) => severities.get(id) === severity).length;
  return {
    ...itself,
    lots: lots.length,
    pieces: lots.reduce((sum, { pieces }) => sum + pieces, 0),
    taken: lots.reduce((sum, { slots }) => sum + slots, 0),
    now: wrong('now'),
    today: wrong('today'),
    watch: wrong('watch'),
    slots: cells.map((cell) => ({
      ...cell,
      severity: (cell.lotId === null ? undefined : severities.get(cell.lotId)) ?? null,
    })),
  };
}

// From the lots with an alert to their racks: there are few of them, however many racks.
const wantedQuery = `
  WITH wrong AS MATERIALIZED (
    SELECT lot_id, min(severity) AS severity FROM lot_alert WHERE put_off_until IS NULL OR put_off_until <= $2
     GROUP BY lot_id HAVING min(severity) < 'watch'),
  standing AS (
    SELECT DISTINCT lot_place.rack_id, wrong.lot_id, wrong.severity FROM wrong JOIN lot_place ON lot_place.lot_id = wrong.lot_id)
  SELECT rack.name, (count(*) FILTER (WHERE standing.severity = 'now'))::int AS now, (count(*) FILTER (WHERE standing.severity = 'today'))::int AS today
    FROM standing JOIN rack ON rack.id = standing.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
   WHERE system.site_id = $1 AND system.retired_at IS NULL
   GROUP BY rack.id, tank.id, system.id
   ORDER BY system.position, system.name, tank.position, tank.name, rack.position, rack.name`;

/** The racks of a site with lots to look at now or today, and how many of each; one query. */
export async function racksWanted(
  pool: pg.Pool,
  siteId: string,
  now: Date,
): Promise<Pick<RackOverview, 'name' | 'now' | 'today'>[]> {
  return (await pool.query<Pick<RackOverview, 'name' | 'now' | 'today'>>(wantedQuery, [siteId, now])).rows;
}
