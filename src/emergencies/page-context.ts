import { currentSiteId } from '../farm/page-context.ts';

/** What is wrong now, as every page shows it, as `loadPageContext` reads it. */
export const emergenciesNow = `
  SELECT coalesce(json_agg(json_build_object('id', emergency.id, 'title', emergency.title, 'startedAt', emergency.started_at,
      'systems', (SELECT json_agg(system.name ORDER BY system.position, system.name)
                    FROM emergency_system JOIN system ON system.id = system_id WHERE emergency_id = emergency.id),
      'systemIds', (SELECT json_agg(system_id) FROM emergency_system WHERE emergency_id = emergency.id),
      'dueAt', (SELECT due_at FROM look WHERE key = 'emergency:' || emergency.id AND done_at IS NULL)) ORDER BY emergency.started_at), '[]')
    FROM emergency
   WHERE ended_at IS NULL AND site_id = (${currentSiteId})`;
