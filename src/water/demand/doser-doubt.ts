import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { SHORTFALL_BEGINS } from '../dosers/reckoning.rules.ts';
import { type DoserDoubt, type DoserRecord, doubtOf } from './doser-doubt.rules.ts';

/** So far back a doser that was put right still matters: the longest window that a use is worked out from. */
const rememberedDays = 60;

// A shortfall that a look into the container showed is taken out of the log already, so it leaves nothing in doubt.
const query = `
  WITH looked AS (
    SELECT DISTINCT ON (alert.system_id, alert_event.detail ->> 'code') alert.system_id, alert_event.detail ->> 'code' AS code,
           json_build_object('state', alert_event.detail ->> 'doser', 'at', alert_event.at, 'since', alert_event.detail ->> 'since') AS said
      FROM alert_event JOIN alert ON alert.id = alert_event.alert_id
     WHERE alert.system_id = ANY($1::uuid[]) AND alert_event.kind = 'acted' AND alert_event.detail ? 'doser'
       AND alert_event.at > $3 AND alert_event.at <= $4
     ORDER BY alert.system_id, alert_event.detail ->> 'code', alert_event.at DESC, alert_event.id DESC
  ), noted AS (
    SELECT DISTINCT ON (doser.system_id, code) doser.system_id, code,
           json_build_object('seen', fault.seen, 'at', fault.noted_at, 'mendedAt', fault.mended_at) AS said
      FROM fault JOIN equipment AS doser ON doser.id = fault.equipment_id, unnest($2::text[]) AS code
     WHERE doser.system_id = ANY($1::uuid[]) AND doser.kind = 'doser' AND coalesce(doser.strength_code, code) = code
       AND fault.left_out IS NULL AND fault.seen NOT LIKE '${SHORTFALL_BEGINS} %' AND fault.noted_at <= $4
       AND (fault.mended_at IS NULL OR fault.mended_at > $3)
     ORDER BY doser.system_id, code, fault.mended_at DESC NULLS FIRST, fault.noted_at DESC
  ), measured AS (
    SELECT doser.system_id, code, max(calibration.at) AS at
      FROM doser_calibration AS calibration JOIN equipment AS doser ON doser.id = calibration.equipment_id, unnest($2::text[]) AS code
     WHERE doser.system_id = ANY($1::uuid[]) AND coalesce(doser.strength_code, code) = code
       AND calibration.voided_at IS NULL AND calibration.at <= $4
     GROUP BY doser.system_id, code
  ), asking AS (
    SELECT DISTINCT ON (system_id, code) system_id, code, json_build_object('title', title, 'at', opened_at) AS said
      FROM (SELECT *, CASE WHEN rule LIKE 'alkalinity-%' OR rule = 'demand-changed' THEN 'alkalinity' ELSE facet END AS code
              FROM open_alert WHERE system_id = ANY($1::uuid[]) AND quiet_since IS NULL) AS open
     WHERE finding -> 'advice' @> '[{"asks": "doser"}]'
        OR rule LIKE 'alkalinity-%' AND finding ? 'found'
     ORDER BY system_id, code, severity, opened_at
  )
  SELECT system_id AS "systemId", code, looked.said AS looked, noted.said AS fault, measured.at AS "measuredAt", asking.said AS asking
    FROM unnest($1::uuid[]) AS system_id CROSS JOIN unnest($2::text[]) AS code
    LEFT JOIN looked USING (system_id, code) LEFT JOIN noted USING (system_id, code)
    LEFT JOIN measured USING (system_id, code) LEFT JOIN asking USING (system_id, code)
   WHERE looked.said IS NOT NULL OR noted.said IS NOT NULL OR asking.said IS NOT NULL`;

interface Row {
  systemId: string;
  code: string;
  looked: { state: 'well' | 'righted' | 'wrong'; at: string; since: string | null } | null;
  fault: { seen: string; at: string; mendedAt: string | null } | null;
  measuredAt: Date | null;
  asking: { title: string; at: string } | null;
}

/**
 * Why doses in the log may not all have gone in, by system and quantity; where nothing speaks against them there is none. One
 * query.
 */
export async function readDoserDoubts(
  reader: SqlReader,
  systemIds: readonly string[],
  codes: readonly string[],
  now: Date,
): Promise<(systemId: string, code: string) => DoserDoubt | null> {
  const period = [[...systemIds], [...codes], daysBefore(now, rememberedDays), now];
  const { rows } = await reader.query<Row>(query, period);
  return (systemId, code) => {
    const row = rows.find((one) => one.systemId === systemId && one.code === code);
    return row === undefined ? null : doubtOf(recordOf(row));
  };
}

const recordOf = ({ looked, fault, measuredAt, asking }: Row): DoserRecord => ({
  looked: looked && {
    state: looked.state,
    at: new Date(looked.at),
    since: looked.since === null ? null : new Date(looked.since),
  },
  fault: fault && {
    seen: fault.seen,
    at: new Date(fault.at),
    mendedAt: fault.mendedAt === null ? null : new Date(fault.mendedAt),
  },
  measuredAt,
  asking: asking && { title: asking.title, at: new Date(asking.at) },
});
