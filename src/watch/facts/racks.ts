import type pg from 'pg';
import { dayOf } from '../../science/numeric/time.ts';
import { type RackShots, rackShots, SHOT_DAYS } from '../../stock/rack-photographs/measures.ts';
import { before, type Span } from '../../water/record/span.ts';
import type { RackFact, SurveyFact } from './types.ts';

interface SurveyRow extends Omit<SurveyFact, 'at' | 'day'> {
  /** Milliseconds since 1970. */
  ms: number;
}

interface RackRow extends Omit<RackFact, 'surveys'> {
  systemId: string;
  surveys: SurveyRow[];
}

/** Surveys of a rack that are told, the newest: enough to see lamps that get old. */
const told = 6;

// The mean of a survey is that of the slots within the rack's edge.
const rackQuery = `
  WITH here AS MATERIALIZED (
    SELECT rack.*, tank.name AS tank_name, tank.height_mm, tank.system_id FROM rack JOIN tank ON tank.id = rack.tank_id
     WHERE tank.system_id = ANY($1)
  ), ranked AS MATERIALIZED (
    SELECT light_survey.*, row_number() OVER (PARTITION BY rack_id ORDER BY measured_at DESC, light_survey.id DESC) AS back
      FROM light_survey JOIN here ON here.id = light_survey.rack_id
     WHERE voided_at IS NULL AND measured_at <= $2
  ), newest AS (
    SELECT ranked.id, ranked.rack_id, measured_at, lamp_percent, meter, avg(slot_light.par) AS par
      FROM ranked JOIN slot_light ON slot_light.survey_id = ranked.id
     WHERE back <= ${told}
     GROUP BY ranked.id, ranked.rack_id, measured_at, lamp_percent, meter
  )
  SELECT here.id, here.system_id AS "systemId", here.name, here.tank_name AS "tankName", here.height_mm AS "tankHeightMm",
         here.lamp_id AS "lampId", here.depth_mm AS "depthMm", here.slot_width_mm AS "slotWidthMm", here.slot_depth_mm AS "slotDepthMm",
         (SELECT CASE WHEN count(*) > 1 THEN (extract(epoch FROM max(at)) / 86400)::float8 END FROM rack_stand WHERE rack_id = here.id AND at <= $2) AS "standsDay",
         coalesce((SELECT json_agg(json_build_object('id', id, 'ms', extract(epoch FROM measured_at) * 1000, 'percent', lamp_percent,
                                   'meter', meter, 'par', par) ORDER BY measured_at, id)
                     FROM newest WHERE rack_id = here.id), '[]') AS surveys
    FROM here ORDER BY here.position, here.name, here.id`;

/** The racks of the systems with their last surveys, by system. One query. */
export async function loadRacks(
  pool: pg.Pool,
  systemIds: readonly string[],
  { now }: Span,
): Promise<Map<string, RackFact[]>> {
  const { rows } = await pool.query<RackRow>(rackQuery, [systemIds, now]);
  const groupBySystem = Map.groupBy(rows, (row) => row.systemId);
  return new Map([...groupBySystem].map(([id, list]) => [id, list.map(rackFact)]));
}

function rackFact({ systemId: _, surveys, ...rack }: RackRow): RackFact {
  return { ...rack, surveys: surveys.map(surveyFact) };
}

function surveyFact({ ms, ...survey }: SurveyRow): SurveyFact {
  const at = new Date(ms);
  return { ...survey, at: at.toISOString(), day: dayOf(at) };
}

/** Photographs of the racks of each system with the whiteness of lots, by system. One query. */
export async function loadPhotographs(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, RackShots[]>> {
  const racks = await rackShots(pool, { systemIds }, { since: before(span, SHOT_DAYS), now: span.now });
  return Map.groupBy(racks, ({ systemId }) => systemId);
}
