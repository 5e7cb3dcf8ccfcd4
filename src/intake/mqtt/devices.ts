import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { matches } from './filters.rules.ts';

/** A device whose last will came and that has not been heard since, as the broker told it. */
export interface SilentDevice {
  /** The system in which it is told: that of most of its probes; the first of the site where none is placed. */
  systemId: string;
  siteId: string;
  /** The topic of its last will. */
  topic: string;
  since: Date;
  /** The probes whose names lie in its branch of topics, with the instruments they stand for. */
  probes: { name: string; kitId: string; label: string; systemName: string }[];
}

// A device's branch is its will's topic without the last level: "hall/ph1" of "hall/ph1/state".
const query = `
  SELECT told.id AS "systemId", heard.site_id AS "siteId", heard.topic, heard.silent_since AS since,
         ARRAY(SELECT filter FROM mqtt_topic WHERE site_id = heard.site_id AND removed_at IS NULL AND silent_word <> '') AS filters,
         coalesce((SELECT json_agg(json_build_object('name', probe.name, 'kitId', kit.id, 'label', kit.label, 'systemName', system.name) ORDER BY probe.name)
                     FROM probe_name AS probe JOIN kit ON kit.id = probe.kit_id JOIN system ON system.id = probe.system_id
                    WHERE system.site_id = heard.site_id AND starts_with(probe.name, branch.name)), '[]') AS probes
    FROM mqtt_heard AS heard
   CROSS JOIN LATERAL (SELECT nullif(regexp_replace(heard.topic, '[^/]*$', ''), '') AS name) AS branch
   CROSS JOIN LATERAL (
     SELECT system.id FROM system LEFT JOIN probe_name AS probe ON probe.system_id = system.id AND starts_with(probe.name, branch.name)
      WHERE system.site_id = heard.site_id AND system.retired_at IS NULL
      GROUP BY system.id ORDER BY count(probe.name) DESC, system.position, system.name, system.id LIMIT 1) AS told
   WHERE heard.silent_since IS NOT NULL AND told.id = ANY($1::uuid[])
   ORDER BY heard.silent_since, heard.topic`;

/** The silent devices that are told in these systems, the longest silent first, of topics that the site still listens to. One query. */
export async function silentDevices(
  reader: SqlReader,
  systemIds: readonly string[],
): Promise<SilentDevice[]> {
  const { rows } = await reader.query<SilentDevice & { filters: string[] }>(query, [[...systemIds]]);
  return rows
    .filter(({ filters, topic }) => filters.some((filter) => matches(filter, topic)))
    .map(({ filters, ...device }) => device);
}
