import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** How a rack was mounted from `at` on: tank and place in it, lamps, depth and slope. */
export interface RackMounting {
  rackId: string;
  at: Date;
  place: string;
  lampId: string | null;
  litHours: number | null;
  rampHours: number | null;
  depthMm: number;
  slopeDeg: number;
}

const mountingQuery = `
  SELECT stand.rack_id AS "rackId", stand.at, concat(stand.tank_id, ' ', stand.left_mm, ' ', stand.back_mm, ' ', stand.slope_deg) AS place,
         stand.lamp_id AS "lampId", lamp.lit_hours AS "litHours", lamp.ramp_hours AS "rampHours",
         stand.depth_mm AS "depthMm", stand.slope_deg AS "slopeDeg"
    FROM rack_stand AS stand LEFT JOIN lamp ON lamp.id = stand.lamp_id
   WHERE stand.rack_id IN (SELECT rack_id FROM slot WHERE id = ANY($1::uuid[]))
     AND EXISTS (SELECT 1 FROM rack_stand AS other WHERE other.rack_id = stand.rack_id AND other.id <> stand.id)
   ORDER BY stand.rack_id, stand.at`;

/** How the racks of these slots were mounted until a time, oldest first; only racks that were ever mounted otherwise. */
export async function rackMountings(
  reader: SqlReader,
  slotIds: readonly string[],
  until: Date,
): Promise<Map<string, RackMounting[]>> {
  const { rows } = await reader.query<RackMounting>(mountingQuery, [slotIds]);
  const byRack = [...Map.groupBy(rows, (row) => row.rackId)];
  return new Map(
    byRack.map(([rackId, mountings]) => [rackId, mountings.filter(({ at }, i) => i === 0 || at <= until)]),
  );
}

/**
 * Notes how these racks are mounted now, for those with no such note yet, so that their past keeps it. Call it before
 * a rack is changed, and `noteMountings` after it.
 */
export async function noteFirstMountings(work: Work, rackIds: readonly string[]): Promise<void> {
  await work.tx.$executeRaw`
    INSERT INTO rack_stand (id, rack_id, at, tank_id, lamp_id, depth_mm, left_mm, back_mm, slope_deg)
    SELECT gen_random_uuid(), rack.id, least(rack.created_at, ${work.now}::timestamptz - interval '1 second'),
           tank_id, lamp_id, depth_mm, left_mm, back_mm, slope_deg
      FROM rack WHERE id = ANY(${rackIds}::uuid[]) AND NOT EXISTS (SELECT 1 FROM rack_stand WHERE rack_id = rack.id)`;
}

/**
 * Notes how these racks are mounted from now on, for those whose latest note says otherwise; how many were noted. One
 * statement.
 */
export async function noteMountings(work: Work, rackIds: readonly string[], note = ''): Promise<number> {
  return work.tx.$executeRaw`
    INSERT INTO rack_stand (id, rack_id, at, tank_id, lamp_id, depth_mm, left_mm, back_mm, slope_deg, note, account_id)
    SELECT gen_random_uuid(), rack.id, ${work.now}, rack.tank_id, rack.lamp_id, rack.depth_mm, rack.left_mm, rack.back_mm,
           rack.slope_deg, ${note}, ${work.accountId}::uuid
      FROM rack
      LEFT JOIN LATERAL (SELECT * FROM rack_stand WHERE rack_id = rack.id ORDER BY at DESC LIMIT 1) AS last ON true
     WHERE rack.id = ANY(${rackIds}::uuid[])
       AND (last.tank_id, last.lamp_id, last.depth_mm, last.left_mm, last.back_mm, last.slope_deg)
         IS DISTINCT FROM (rack.tank_id, rack.lamp_id, rack.depth_mm, rack.left_mm, rack.back_mm, rack.slope_deg)
    ON CONFLICT (rack_id, at) DO UPDATE SET tank_id = excluded.tank_id, lamp_id = excluded.lamp_id,
      depth_mm = excluded.depth_mm, left_mm = excluded.left_mm, back_mm = excluded.back_mm, slope_deg = excluded.slope_deg`;
}

/** Corrects how a rack hangs since the latest note of it: that note was entered wrong. One statement. */
export async function correctMounting(work: Work, rackId: string): Promise<void> {
  await work.tx.$executeRaw`
    UPDATE rack_stand SET tank_id = rack.tank_id, lamp_id = rack.lamp_id, depth_mm = rack.depth_mm, left_mm = rack.left_mm,
           back_mm = rack.back_mm, slope_deg = rack.slope_deg, account_id = ${work.accountId}::uuid
      FROM rack WHERE rack.id = ${rackId}::uuid AND rack_stand.rack_id = rack.id
       AND rack_stand.at = (SELECT max(at) FROM rack_stand WHERE rack_id = rack.id)`;
}

/** Notes that racks hung under these lamps since an earlier time, as far as no other lamps are noted for it. */
export async function dateBackMountings(
  work: Work,
  rackIds: readonly string[],
  lampId: string,
  since: Date,
): Promise<void> {
  await work.tx.$executeRaw`
    INSERT INTO rack_stand (id, rack_id, at, tank_id, lamp_id, depth_mm, left_mm, back_mm, slope_deg, account_id)
    SELECT gen_random_uuid(), rack_id, ${since}, tank_id, ${lampId}::uuid, depth_mm, left_mm, back_mm, slope_deg, ${work.accountId}::uuid
      FROM (SELECT DISTINCT ON (rack_id) * FROM rack_stand
             WHERE rack_id = ANY(${rackIds}::uuid[]) AND at <= ${since} ORDER BY rack_id, at DESC) AS earlier
     WHERE lamp_id IS NULL
    ON CONFLICT (rack_id, at) DO UPDATE SET lamp_id = excluded.lamp_id`;
  await work.tx.$executeRaw`
    UPDATE rack_stand SET lamp_id = ${lampId}::uuid
     WHERE rack_id = ANY(${rackIds}::uuid[]) AND at >= ${since} AND lamp_id IS NULL`;
}
