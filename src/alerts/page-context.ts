import { currentSiteId } from '../farm/page-context.ts';

/** How many alerts are open by urgency, without those put off or explained by another, as `loadPageContext` reads it. */
export const openAlertCounts = `
  SELECT json_build_object('now', count(*) FILTER (WHERE severity = 'now'), 'today', count(*) FILTER (WHERE severity = 'today'))
    FROM alert JOIN system ON system.id = alert.system_id
   WHERE cleared_at IS NULL AND cause_id IS NULL AND (put_off_until IS NULL OR put_off_until <= $2::timestamptz)
     AND system.site_id = (${currentSiteId})`;
