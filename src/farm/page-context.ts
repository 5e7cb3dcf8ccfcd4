/** The site that pages are about, as `loadPageContext` reads it. */
export const currentSite = `
  SELECT json_build_object('id', id, 'name', name, 'timeZone', time_zone) FROM site ORDER BY created_at, id LIMIT 1`;
