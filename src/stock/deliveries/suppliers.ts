import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { binomialInterval } from '../../science/statistics/exact-intervals.ts';
import { NOT_THE_FARMS } from '../losses/causes.rules.ts';

/** One supplier's deliveries as they are added up: pieces, and their bases. */
export interface SupplierSums {
  supplier: string;
  deliveries: number;
  ordered: number;
  invoiced: number;
  counted: number;
  arrivedDead: number;
  /** Of deliveries of at least 3 and 30 days ago: alive on arrival, and of these dead since. */
  alive3: number;
  dead3: number;
  alive30: number;
  dead30: number;
}

// Deaths after arrival are lines of the ledger; those noted at the arrival itself as dead on arrival are counted apart.
const query = `
  WITH line AS (
    SELECT delivery.id, delivery.supplier, delivery.came_at, line.lot_id, line.ordered, line.invoiced, line.counted, line.arrived_dead,
           coalesce((SELECT -sum(change) FROM ledger_entry WHERE ledger_entry.lot_id = line.lot_id AND reason = 'lost' AND voided_at IS NULL
              AND coalesce(cause, 'unknown') <> ALL($4::"LossCause"[]) AND at <= came_at + interval '3 days'), 0)::int AS dead3,
           coalesce((SELECT -sum(change) FROM ledger_entry WHERE ledger_entry.lot_id = line.lot_id AND reason = 'lost' AND voided_at IS NULL
              AND coalesce(cause, 'unknown') <> ALL($4::"LossCause"[]) AND at <= came_at + interval '30 days'), 0)::int AS dead30
      FROM delivery JOIN delivery_line AS line ON line.delivery_id = delivery.id WHERE delivery.site_id = $1 AND delivery.voided_at IS NULL)
  SELECT supplier, count(DISTINCT id)::int AS deliveries, coalesce(sum(ordered), 0)::int AS ordered, coalesce(sum(invoiced), 0)::int AS invoiced,
         sum(counted)::int AS counted, sum(arrived_dead)::int AS "arrivedDead",
         coalesce(sum(counted - arrived_dead) FILTER (WHERE came_at <= $2), 0)::int AS alive3, coalesce(sum(dead3) FILTER (WHERE came_at <= $2), 0)::int AS dead3,
         coalesce(sum(counted - arrived_dead) FILTER (WHERE came_at <= $3), 0)::int AS alive30, coalesce(sum(dead30) FILTER (WHERE came_at <= $3), 0)::int AS dead30
    FROM line GROUP BY supplier ORDER BY max(came_at) DESC, supplier`;

/** The figures of each supplier of a site, the latest first. One query. */
export async function supplierSums(reader: SqlReader, siteId: string, now: Date): Promise<SupplierSums[]> {
  return (
    await reader.query<SupplierSums>(query, [siteId, daysBefore(now, 3), daysBefore(now, 30), NOT_THE_FARMS])
  ).rows;
}

const digits = (share: number) => numberWords(100 * share, share > 0 && share < 0.1 ? 1 : 0);

/** "3 of 40 in the box: 7.5 % (1.6 to 20 %)"; that nothing is known where the base is empty. */
export function shareOf(count: number, base: number, of: string): string {
  if (base === 0) return 'nothing to say yet';
  const { low, high } = binomialInterval(Math.min(count, base), base);
  return `${count} of ${base} ${of}: ${digits(count / base)} % (${digits(low)} to ${digits(high)} %)`;
}

/** A supplier as a row: each share with its base and its exact 95 % interval. */
export const supplierRow = (sums: SupplierSums) => ({
  supplier: sums.supplier,
  deliveries: plural(sums.deliveries, 'delivery', 'deliveries'),
  dead: shareOf(sums.arrivedDead, sums.counted, 'in the box'),
  within3: shareOf(sums.dead3, sums.alive3, 'alive on arrival'),
  within30: shareOf(sums.dead30, sums.alive30, 'alive on arrival'),
});
