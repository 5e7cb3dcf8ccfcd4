import type { LossCause } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound } from '../../platform/refusal.ts';
import { lotSubject } from '../base/lot-lock.ts';

/** One loss as the list shows it. */
export interface Loss {
  id: string;
  at: Date;
  code: string;
  ownCode: string;
  kind: string;
  place: string;
  systemName: string;
  pieces: number;
  cause: LossCause | null;
  note: string;
  who: string;
}

// What was taken back (its look is void) is no loss. By the lots of the site: its losses of a time are few.
const lostQuery = `
  SELECT entry.* FROM ledger_entry AS entry JOIN lot ON lot.id = entry.lot_id
   WHERE lot.site_id = $1 AND entry.reason = 'lost' AND entry.voided_at IS NULL AND entry.at > $2 AND entry.at <= $3
     AND NOT EXISTS (SELECT 1 FROM condition AS look WHERE look.lot_id = entry.lot_id AND look.at = entry.at AND look.state = 'lost' AND look.voided_at IS NOT NULL)`;

// Where the lot stood then.
const pageQuery = `
  WITH entry AS (${lostQuery} ORDER BY entry.at DESC, entry.id DESC LIMIT $4::int OFFSET $5::int)
  SELECT entry.id, entry.at, lot.code, lot.own_code AS "ownCode", kind.name AS kind, coalesce(place.rack, '') AS place,
         coalesce(place.system, '') AS "systemName", -entry.change AS pieces, entry.cause, entry.note, coalesce(account.name, '') AS who
    FROM entry
    JOIN lot ON lot.id = entry.lot_id JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN account ON account.id = entry.account_id
    LEFT JOIN LATERAL (
      SELECT min(rack.name) AS rack, min(system.name) AS system FROM placement
        JOIN placement_slot ON placement_slot.placement_id = placement.id JOIN slot ON slot.id = placement_slot.slot_id
        JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
       WHERE placement.lot_id = lot.id AND placement.from_at <= entry.at AND (placement.to_at IS NULL OR placement.to_at >= entry.at)
       GROUP BY placement.id, placement.from_at ORDER BY placement.from_at DESC LIMIT 1) AS place ON true
   ORDER BY entry.at DESC, entry.id DESC`;

/** The losses of a site of a time: after `since`, until `until`. */
export interface LossPeriod {
  siteId: string;
  since: Date;
  until: Date;
}

const valuesOf = ({ siteId, since, until }: LossPeriod) => [siteId, since, until];

/** So many of them, the latest first. One query. */
export async function lossPage(
  reader: SqlReader,
  period: LossPeriod,
  { limit, offset }: { limit: number; offset: number },
): Promise<Loss[]> {
  return (await reader.query<Loss>(pageQuery, [...valuesOf(period), limit, offset])).rows;
}

/** Losses by one cause: how often, how many pieces, of how many lots. */
export interface CauseTotal {
  cause: LossCause;
  losses: number;
  pieces: number;
  lots: number;
}

const totalsQuery = `
  SELECT coalesce(cause, 'unknown') AS cause, count(*)::int AS losses, -sum(change)::int AS pieces, count(DISTINCT lot_id)::int AS lots
    FROM (${lostQuery}) AS entry GROUP BY 1`;

/** All of them by cause. One query. */
export async function lossesByCause(reader: SqlReader, period: LossPeriod): Promise<CauseTotal[]> {
  return (await reader.query<CauseTotal>(totalsQuery, valuesOf(period))).rows;
}

const placeQuery = `
  WITH entry AS (${lostQuery})
  SELECT (SELECT count(*)::int FROM entry WHERE (entry.at, entry.id) > (asked.at, asked.id)) AS before FROM entry AS asked WHERE asked.id = $4`;

/** How many of them are later than one; null where it is none of them. One query. */
export async function lossesBefore(
  reader: SqlReader,
  period: LossPeriod,
  id: string,
): Promise<number | null> {
  const { rows } = await reader.query<{ before: number }>(placeQuery, [...valuesOf(period), id]);
  return rows[0]?.before ?? null;
}

/** The systems of a site that are in use, in their order. One query. */
export async function systemsToJudge(
  reader: SqlReader,
  siteId: string,
): Promise<{ id: string; name: string }[]> {
  const query =
    'SELECT id, name FROM system WHERE site_id = $1 AND retired_at IS NULL ORDER BY position, name, id';
  return (await reader.query<{ id: string; name: string }>(query, [siteId])).rows;
}

/**
 * Says why pieces were lost, when it is known better. What was said before stays in the journal.
 * @throws Refusal 404 where there is no such loss
 */
export async function sayCause(work: Work, id: string, cause: LossCause): Promise<{ code: string }> {
  const entry = await work.tx.ledgerEntry.findUnique({
    where: { id },
    select: { reason: true, cause: true, lotId: true, lot: { select: { code: true } } },
  });
  if (entry === null || entry.reason !== 'lost') throw notFound('This loss');
  await work.tx.ledgerEntry.update({ where: { id }, data: { cause } });
  const { code } = entry.lot;
  work.record('ledger.cause_said', lotSubject(entry.lotId), {
    code,
    before: { cause: entry.cause ?? 'unknown' },
    after: { cause },
  });
  const placed = await work.tx.placement.findFirst({
    where: { lotId: entry.lotId },
    orderBy: { fromAt: 'desc' },
    select: { slots: { take: 1, select: { slot: { select: { rack: { select: { tank: true } } } } } } },
  });
  const systemId = placed?.slots[0]?.slot.rack.tank.systemId;
  if (systemId !== undefined) work.reevaluate(systemId);
  return { code };
}
