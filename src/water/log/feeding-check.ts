import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { timeWords } from '../../platform/words/times.ts';
import type { FeedingContext, FeedingHold } from './feeding-check.rules.ts';

const holdQuery = `
  SELECT own.system_id AS "systemId", emergency.title, emergency.started_at AS at, '/emergencies/' || emergency.id AS href, site.time_zone AS "timeZone"
    FROM emergency JOIN emergency_system AS own ON own.emergency_id = emergency.id JOIN site ON site.id = emergency.site_id
   WHERE emergency.ended_at IS NULL AND own.system_id = ANY($1::uuid[])
   UNION ALL
  SELECT alert.system_id, alert.title, NULL, '/watch/' || alert.id, NULL
    FROM alert
   WHERE alert.cleared_at IS NULL AND alert.severity = 'now' AND alert.system_id = ANY($1::uuid[]) AND alert.subject_type = 'system'
     AND alert.finding @? '$.advice[*].acts[*] ? ((@.lever == "food" && (@.direction == "down" || @.direction == "hold")) || ((@.lever == "air" || @.lever == "pumps") && @.direction == "up"))'
   ORDER BY 3 NULLS LAST, 2`;

interface HoldRow {
  systemId: string;
  title: string;
  at: Date | null;
  href: string;
  timeZone: string | null;
}

/**
 * What holds food back and pumps on in these systems: an open emergency, or an urgent alert whose advice is to feed less or to move
 * the water more. One query.
 */
export async function feedingHolds(reader: SqlReader, systemIds: readonly string[]): Promise<FeedingHold[]> {
  const { rows } = await reader.query<HoldRow>(holdQuery, [[...systemIds]]);
  return rows.map(({ systemId, title, at, href, timeZone }) => ({
    systemId,
    what: at === null || timeZone === null ? title : `${title}, since ${timeWords(at, timeZone)}`,
    href,
  }));
}

const amountQuery = `
  SELECT amount_g AS amount, lower(food) = lower($2) AS same FROM feeding
   WHERE system_id = $1::uuid AND voided_at IS NULL AND amount_g IS NOT NULL AND at <= $3 AND at > $3::timestamptz - interval '60 days'
   ORDER BY at DESC LIMIT 200`;

/** What a feeding is compared with. Two queries. */
export async function feedingContext(
  reader: SqlReader,
  { systemId, food, at }: { systemId: string; food: string; at: Date },
): Promise<FeedingContext> {
  const holds = await feedingHolds(reader, [systemId]);
  const asked = [systemId, food.trim(), at];
  const { rows } = await reader.query<{ amount: number; same: boolean }>(amountQuery, asked);
  const amounts = rows.map(({ amount, same }) => ({ amount: Number(amount), same }));
  return {
    holds,
    sameFood: amounts.flatMap(({ amount, same }) => (same ? [amount] : [])),
    anyFood: amounts.map(({ amount }) => amount),
  };
}
