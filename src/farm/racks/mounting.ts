import type pg from 'pg';
import type { Work } from '../../platform/change.ts';
import type { LampSetting, LitHours } from '../light/slot-light.rules.ts';
import { type Stand, slotDepthMm } from './mounting.rules.ts';

/** A rack that was hung otherwise at `at`, as the database has it. */
export interface StandRow {
  rackId: string;
  at: Date;
  place: string;
  lampId: string | null;
  litHours: number | null;
  rampHours: number | null;
  depthMm: number;
  slopeDeg: number;
}

const standQuery = `
  SELECT stand.rack_id AS "rackId", stand.at, concat(stand.tank_id, ' ', stand.left_mm, ' ', stand.back_mm, ' ', stand.slope_deg) AS place,
         stand.lamp_id AS "lampId", lamp.lit_hours AS "litHours", lamp.ramp_hours AS "rampHours",
         stand.depth_mm AS "depthMm", stand.slope_deg AS "slopeDeg"
    FROM rack_stand AS stand LEFT JOIN lamp ON lamp.id = stand.lamp_id
   WHERE stand.rack_id IN (SELECT rack_id FROM slot WHERE id = ANY($1::uuid[]))
     AND EXISTS (SELECT 1 FROM rack_stand AS other WHERE other.rack_id = stand.rack_id AND other.id <> stand.id)
   ORDER BY stand.rack_id, stand.at`;

/** How the racks of these slots hung until a time, oldest first; only racks that were ever hung otherwise. */
export async function rackStands(
  pool: pg.Pool,
  slotIds: readonly string[],
  until: Date,
): Promise<Map<string, StandRow[]>> {
  const { rows } = await pool.query<StandRow>(standQuery, [slotIds]);
  const known = [...Map.groupBy(rows, (row) => row.rackId)];
  return new Map(
    known.map(([rackId, stands]) => [rackId, stands.filter((stand, i) => i === 0 || stand.at <= until)]),
  );
}

/** The hours of a row's lamps; null where it has none. */
export const hoursOf = ({
  litHours,
  rampHours,
}: {
  litHours: number | null;
  rampHours: number | null;
}): LitHours | null => (litHours === null || rampHours === null ? null : { litHours, rampHours });

/** A stand of the rack as one of its slots had it. */
export function standOf(
  stand: StandRow,
  slot: { row: number; rows: number; slotDepthMm: number | null },
  settingsOf: (lampId: string | null) => readonly LampSetting[],
): Stand {
  const { at, place, lampId } = stand;
  const depthMm = slotDepthMm({ ...stand, ...slot }, slot.row);
  return { at, place, lampId, depthMm, settings: settingsOf(lampId), hours: hoursOf(stand) };
}

/**
 * Racks about to be hung otherwise: notes how they hang now where no row of theirs says it yet, so that their past
 * keeps it. Call before the change; `keepStands` after it.
 */
export async function keepFirstStands(work: Work, rackIds: readonly string[]): Promise<void> {
  await work.tx.$executeRaw`
    INSERT INTO rack_stand (id, rack_id, at, tank_id, lamp_id, depth_mm, left_mm, back_mm, slope_deg)
    SELECT gen_random_uuid(), rack.id, least(rack.created_at, ${work.now}::timestamptz - interval '1 second'),
           tank_id, lamp_id, depth_mm, left_mm, back_mm, slope_deg
      FROM rack WHERE id = ANY(${rackIds}::uuid[]) AND NOT EXISTS (SELECT 1 FROM rack_stand WHERE rack_id = rack.id)`;
}

/** Notes how these racks hang from now on, where that is otherwise than their latest row says. One statement. */
export async function keepStands(work: Work, rackIds: readonly string[], note = ''): Promise<number> {
  return work.tx.$executeRaw`
    INSERT INTO rack_stand (id, rack_id, at, tank_id, lamp_id, depth_mm, left_mm, back_mm, slope_deg, note, account_id)
    SELECT gen_random_uuid(), rack.id, ${work.now}, rack.tank_id, rack.lamp_id, rack.depth_mm, rack.left_mm, rack.back_mm,
           rack.slope_deg, ${note}, ${work.by}::uuid
      FROM rack
      LEFT JOIN LATERAL (SELECT * FROM rack_stand WHERE rack_id = rack.id ORDER BY at DESC LIMIT 1) AS last ON true
     WHERE rack.id = ANY(${rackIds}::uuid[])
       AND (last.tank_id, last.lamp_id, last.depth_mm, last.left_mm, last.back_mm, last.slope_deg)
         IS DISTINCT FROM (rack.tank_id, rack.lamp_id, rack.depth_mm, rack.left_mm, rack.back_mm, rack.slope_deg)
    ON CONFLICT (rack_id, at) DO UPDATE SET tank_id = excluded.tank_id, lamp_id = excluded.lamp_id,
      depth_mm = excluded.depth_mm, left_mm = excluded.left_mm, back_mm = excluded.back_mm, slope_deg = excluded.slope_deg`;
}
