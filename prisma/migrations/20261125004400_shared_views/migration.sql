-- What several areas read, said once.

-- Alerts that are open; muted while they are put off.
CREATE VIEW open_alert AS
SELECT id, rule, subject_type, subject_id, facet, system_id, severity, title, finding, opened_at, seen_at, cause_id, put_off_until, put_off_reason
  FROM alert WHERE cleared_at IS NULL;

-- Where every placed lot stands: one row per slot it takes.
CREATE VIEW lot_place AS
SELECT placement.lot_id, placement.id AS placement_id, placement.from_at,
       slot.id AS slot_id, slot.row, slot."column", chr(64 + slot.row) || slot."column" AS slot_name, slot.flow, slot.jet, slot.base,
       rack.id AS rack_id, rack.name AS rack_name, tank.id AS tank_id, tank.name AS tank_name,
       system.id AS system_id, system.name AS system_name
  FROM placement
  JOIN placement_slot ON placement_slot.placement_id = placement.id
  JOIN slot ON slot.id = placement_slot.slot_id
  JOIN rack ON rack.id = slot.rack_id
  JOIN tank ON tank.id = rack.tank_id
  JOIN system ON system.id = tank.system_id
 WHERE placement.to_at IS NULL;

-- PAR at every surveyed slot as it stands: the rack's newest survey, scaled to the lamps' newest setting.
-- estimated: the lamps were turned since, so that the number is scaled and wants measuring again.
CREATE VIEW slot_light_now AS
SELECT slot_light.slot_id, slot_light.par * coalesce(setting.percent / nullif(survey.lamp_percent, 0), 1) AS par,
       slot_light.error * coalesce(setting.percent / nullif(survey.lamp_percent, 0), 1) AS error,
       slot_light.measured, coalesce(setting.percent <> survey.lamp_percent, false) AS estimated,
       survey.id AS survey_id, survey.measured_at, survey.lamp_percent AS survey_percent, setting.percent AS lamp_percent,
       setting.at AS lamp_set_at, lamp.lit_hours, lamp.ramp_hours
  FROM rack
  JOIN LATERAL (SELECT * FROM light_survey WHERE rack_id = rack.id AND voided_at IS NULL
                 ORDER BY measured_at DESC, id DESC LIMIT 1) AS survey ON true
  JOIN slot_light ON slot_light.survey_id = survey.id
  LEFT JOIN lamp ON lamp.id = rack.lamp_id
  LEFT JOIN LATERAL (SELECT * FROM lamp_setting WHERE lamp_id = rack.lamp_id ORDER BY at DESC LIMIT 1) AS setting ON true;
