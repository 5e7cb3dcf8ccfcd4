import type pg from 'pg';

/**
 * Has the database count its tables again: after many rows came at once it plans by what was there before, until it counts
 * by itself a minute later, and pages take many times as long.
 */
export async function gatherStatistics(client: pg.ClientBase): Promise<void> {
  await client.query('ANALYZE');
}
