/** The pumps that are off for a feeding, due first, as `loadPageContext` reads it. */
export const pumpsStillOff = `
  SELECT coalesce(json_agg(json_build_object('feedingId', feeding.id, 'place', concat_ws(', ', system.name, tank.name),
                  'dueAt', feeding.at + make_interval(mins => feeding.pumps_off_min))
                  ORDER BY feeding.at + make_interval(mins => feeding.pumps_off_min)), '[]')
    FROM feeding JOIN system ON system.id = feeding.system_id LEFT JOIN tank ON tank.id = feeding.tank_id
   WHERE feeding.pumps_off_min IS NOT NULL AND feeding.pumps_on_at IS NULL AND feeding.voided_at IS NULL
     AND system.site_id = (SELECT id FROM site ORDER BY created_at, id LIMIT 1)`;
