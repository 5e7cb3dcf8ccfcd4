import type { Service } from '../../platform/service.ts';
import { hourMs } from '../../science/numeric/time.ts';
import { evaluateSystems } from './evaluate.ts';

// A day begins by the site's clock; estimates are given for the start of the day by UTC.
const begunQuery = `
  SELECT system.id FROM system JOIN site ON site.id = system.site_id
   WHERE system.retired_at IS NULL
     AND (date_trunc('day', $2::timestamptz AT TIME ZONE site.time_zone) AT TIME ZONE site.time_zone > $1
          OR date_trunc('day', $2::timestamptz AT TIME ZONE 'UTC') AT TIME ZONE 'UTC' > $1)`;

/** Evaluates the systems for which a day has begun after `since`, which is looked back to for an hour at most. */
export async function evaluateNewDay(service: Service, since: Date, now: Date): Promise<void> {
  const from = new Date(Math.max(since.getTime(), now.getTime() - hourMs));
  const { rows } = await service.pool.query<{ id: string }>(begunQuery, [from, now]);
  if (rows.length === 0) return;
  await evaluateSystems(
    service,
    rows.map(({ id }) => id),
    now,
  );
}
