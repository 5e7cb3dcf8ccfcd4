import type pg from 'pg';

/** Further ahead than two machines' clocks ever differ, and far less than a clock that was set wrongly (own choice). */
const ahead = "now() + interval '2 minutes'";

/** When each kind of work was last done or claimed, as the job runner remembers it; a time to come stops that work. */
const stamps = [
  ...['cron_on', 'bam_on', 'flow_on', 'reindex_on'].map((column) => ({ table: 'version', column })),
  ...['maintain_on', 'monitor_on', 'monitor_claim_on'].map((column) => ({ table: 'queue', column })),
];

const mendings = [
  ...stamps.map(
    ({ table, column }) =>
      `UPDATE pgboss.${table} SET ${column} = NULL WHERE ${column} > ${ahead} RETURNING 1`,
  ),
  // Work that was begun or put off for a moment while the clock ran ahead is taken up again.
  `UPDATE pgboss.job SET started_on = now() WHERE state = 'active' AND started_on > ${ahead} RETURNING 1`,
  `UPDATE pgboss.job SET start_after = now() WHERE state = 'retry' AND start_after > now() + interval '1 hour' RETURNING 1`,
];

/**
 * Mends what a clock that ran ahead and was set back has left in the job runner: it would wait for that time to come,
 * and nothing that is due by the clock would be done until then.
 * @returns how many stamps lay in the future
 */
export async function mendJobClock(pool: Pick<pg.Pool, 'query'>): Promise<number> {
  let mended = 0;
  for (const mending of mendings) mended += (await pool.query(mending)).rows.length;
  return mended;
}

/** Scheduled work is looked at every half minute; after this long it is overdue. */
const overdueSeconds = 180;

/** Whether work that is due by the clock waits, because nobody has looked for some minutes. One query. */
export async function isScheduledWorkOverdue(pool: Pick<pg.Pool, 'query'>): Promise<boolean> {
  const { rows } = await pool.query<{ overdue: boolean | null }>(
    `SELECT abs(extract(epoch FROM now() - cron_on)) > ${overdueSeconds} AS overdue FROM pgboss.version`,
  );
  return rows[0]?.overdue ?? false;
}
