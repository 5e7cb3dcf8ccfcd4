import { belongsHere } from '../people/page-context.ts';
import { thingCodes, things } from './switched-off/things.rules.ts';

/** The id of the site that pages are about: the one the person went to, else the first to which the person belongs. */
export const currentSiteId = `
  SELECT site.id FROM site WHERE ${belongsHere}
   ORDER BY (site.id = $3::uuid) DESC NULLS LAST, site.created_at, site.id LIMIT 1`;

/** The units of the site `site`, as SQL. */
export const siteUnits = `
  json_build_object('volume', site.volume_unit, 'length', site.length_unit, 'mass', site.mass_unit,
                    'farmShows', (SELECT json_object_agg(code, display_unit) FROM quantity
                                   WHERE code IN ('temperature', 'alkalinity', 'salinity')))`;

/** That site, as `loadPageContext` reads it. */
export const currentSite = `
  SELECT json_build_object('id', id, 'name', name, 'timeZone', time_zone, 'currency', currency,
                           'units', ${siteUnits},
                           'isOnlyOne', (SELECT count(*) FROM site) = 1,
                           'mayLeave', (SELECT count(*) FROM site WHERE ${belongsHere}) > 1)
    FROM site WHERE id = (${currentSiteId})`;

/** How it is said of what is not simply off, as SQL. */
const states = thingCodes
  .filter((code) => things[code].state !== 'off')
  .map((code) => `WHEN '${code}' THEN '${things[code].state}'`)
  .join(' ');

/**
 * What is off for now and is due back within four hours, or was: due first, as `loadPageContext` reads it. What may be
 * off for days stands on the list of what is off.
 */
export const switchedOffNow = `
  SELECT coalesce(json_agg(json_build_object('id', off.id, 'what', off.what, 'state', CASE off.thing ${states} ELSE 'off' END,
                  'place', concat_ws(', ', system.name, tank.name), 'dueAt', off.due_at) ORDER BY off.due_at), '[]')
    FROM switched_off AS off JOIN system ON system.id = off.system_id LEFT JOIN tank ON tank.id = off.tank_id
   WHERE off.seen_running_at IS NULL AND off.voided_at IS NULL AND off.due_at < $2::timestamptz + interval '4 hours'
     AND system.site_id = (${currentSiteId})`;
