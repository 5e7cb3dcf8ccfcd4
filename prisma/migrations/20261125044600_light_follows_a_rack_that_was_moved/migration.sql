-- Light that was surveyed where a rack hung before is an estimate where it hangs now.

-- Depth of a slot's middle in mm; slope_deg falls towards the front, that is with the rows.
CREATE FUNCTION slot_depth_mm(depth_mm integer, slope_deg double precision, slot_row integer, rack_rows integer, slot_mm integer)
RETURNS double precision LANGUAGE sql IMMUTABLE AS $$
  SELECT depth_mm + (slot_row - (rack_rows + 1) / 2.0) * coalesce(slot_mm, 50) * sind(slope_deg)
$$;

-- How a rack's light is known: the survey that counts, how the rack hung then, the setting of its lamps now.
CREATE VIEW rack_light_now AS
SELECT rack.id AS rack_id, survey.id AS survey_id, survey.measured_at, survey.lamp_percent AS survey_percent,
       setting.percent AS lamp_percent, setting.at AS lamp_set_at,
       stood.depth_mm AS depth_then_mm, stood.slope_deg AS slope_then_deg,
       coalesce((stood.tank_id, stood.lamp_id, stood.depth_mm, stood.left_mm, stood.back_mm, stood.slope_deg)
         IS DISTINCT FROM (rack.tank_id, rack.lamp_id, rack.depth_mm, rack.left_mm, rack.back_mm, rack.slope_deg)
         AND stood.rack_id IS NOT NULL, false) AS moved,
       stood.rack_id IS NOT NULL AND stood.lamp_id IS DISTINCT FROM rack.lamp_id AS other_lamp,
       (SELECT max(at) FROM rack_stand WHERE rack_id = rack.id AND at > survey.measured_at) AS moved_at
  FROM rack
  JOIN LATERAL (SELECT * FROM light_survey WHERE rack_id = rack.id AND voided_at IS NULL
                 ORDER BY measured_at DESC, id DESC LIMIT 1) AS survey ON true
  LEFT JOIN LATERAL (SELECT * FROM lamp_setting WHERE lamp_id = rack.lamp_id ORDER BY at DESC LIMIT 1) AS setting ON true
  LEFT JOIN LATERAL (SELECT * FROM rack_stand WHERE rack_id = rack.id
                      ORDER BY at <= survey.measured_at DESC, abs(extract(epoch FROM at - survey.measured_at)) LIMIT 1) AS stood ON true;

-- 1.5 per metre, half of the change and 30 % under other lamps are the service's own choice (src/farm/light.rules.ts).
CREATE OR REPLACE VIEW slot_light_now AS
SELECT known.slot_id, known.par, sqrt(power(known.error, 2) + power(known.par * known.doubt, 2)) AS error,
       known.measured, known.estimated, known.survey_id, known.measured_at, known.survey_percent, known.lamp_percent,
       known.lamp_set_at, known.lit_hours, known.ramp_hours, known.rack_id, known.moved
  FROM (
    SELECT slot_light.slot_id, slot_light.par * factor.turned * factor.deeper AS par,
           slot_light.error * factor.turned * factor.deeper AS error,
           sqrt(power(0.5 * (1 - factor.deeper), 2) + CASE WHEN light.other_lamp THEN 0.09 ELSE 0 END) AS doubt,
           slot_light.measured, factor.turned <> 1 OR light.moved AS estimated,
           light.survey_id, light.measured_at, light.survey_percent, light.lamp_percent, light.lamp_set_at,
           lamp.lit_hours, lamp.ramp_hours, rack.id AS rack_id, light.moved
      FROM rack
      JOIN rack_light_now AS light ON light.rack_id = rack.id
      JOIN slot_light ON slot_light.survey_id = light.survey_id
      JOIN slot ON slot.id = slot_light.slot_id
      LEFT JOIN lamp ON lamp.id = rack.lamp_id
      CROSS JOIN LATERAL (
        SELECT CASE WHEN light.other_lamp THEN 1 ELSE coalesce(light.lamp_percent / nullif(light.survey_percent, 0), 1) END AS turned,
               CASE WHEN NOT light.moved THEN 1 ELSE exp(-1.5 / 1000 * (
                 slot_depth_mm(rack.depth_mm, rack.slope_deg, slot.row, rack.rows, rack.slot_depth_mm)
                 - slot_depth_mm(light.depth_then_mm, light.slope_then_deg, slot.row, rack.rows, rack.slot_depth_mm))) END AS deeper
      ) AS factor) AS known;
