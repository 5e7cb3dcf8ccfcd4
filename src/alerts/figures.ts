import type pg from 'pg';
import type { Figure } from '../platform/metrics/figures.ts';

const open = `
  SELECT urgency, (SELECT count(*)::int FROM alert WHERE cleared_at IS NULL AND severity::text = urgency) AS value
    FROM unnest(enum_range(NULL::"Severity")::text[]) AS urgency`;

/** Open alerts by their urgency. One query. */
export async function alertFigures(pool: pg.Pool): Promise<Figure[]> {
  const { rows } = await pool.query<{ urgency: string; value: number }>(open);
  const values = rows.map(({ urgency, value }) => ({ labels: { urgency }, value }));
  return [{ name: 'alerts_open', help: 'Open alerts, those put off among them, by urgency.', values }];
}
