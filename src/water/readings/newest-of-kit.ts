/**
 * SQL of the newest reading of a kit in any water, as a query of some columns (its time among them): asked of each system
 * that it ever read, since the index of readings by kit leads by system. `where` says which readings count.
 */
export const newestOfKit = (kit: string, columns: string, where: string) => `
   SELECT one.* FROM (SELECT DISTINCT system_id FROM reading_origin WHERE kit_id = ${kit}) AS origin
    CROSS JOIN LATERAL (SELECT ${columns} FROM reading WHERE kit_id = ${kit} AND reading.system_id = origin.system_id AND ${where}
                         ORDER BY at DESC LIMIT 1) AS one
    ORDER BY one.at DESC LIMIT 1`;
