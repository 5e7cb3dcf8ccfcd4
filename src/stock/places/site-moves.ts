import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { openInSql } from '../../platform/plans/plans.rules.ts';
import { lotSubject } from '../base/lot-lock.ts';
import { passGate } from '../pests/gate.ts';
import { moveLots } from './several-moves.ts';

const promisesQuery = `
  SELECT lot.id,
         EXISTS (SELECT FROM hold WHERE lot_id = lot.id AND released_at IS NULL) AS held,
         EXISTS (SELECT FROM acclimation_lot JOIN acclimation ON acclimation.id = acclimation_id
                  WHERE lot_id = lot.id AND acclimation_lot.ended_at IS NULL AND acclimation.ended_at IS NULL) AS acclimating,
         EXISTS (SELECT FROM planned_move AS move JOIN move_plan ON move_plan.id = move.plan_id
                  WHERE move.lot_id = lot.id AND move_plan.ended_at IS NULL AND ${openInSql('move')}) AS planned,
         EXISTS (SELECT FROM lot AS other WHERE other.site_id = $2::uuid AND other.pieces > 0 AND lot.own_code <> ''
                    AND own_code_key(other.own_code) = own_code_key(lot.own_code)) AS "codeTaken"
    FROM lot WHERE lot.id = ANY($1::uuid[])`;

interface Promises extends Record<string, unknown> {
  id: string;
  held: boolean;
  acclimating: boolean;
  planned: boolean;
  codeTaken: boolean;
}

/** Why a lot cannot go to another site now; "" where it can. */
function refusalOf({ held, acclimating, planned, codeTaken }: Promises): string {
  if (held) return 'Pieces of it are held for a buyer. Sell them or release the hold first.';
  if (acclimating) return 'It is in a running acclimation. End that first.';
  if (planned) return 'It is in a plan of moves. Leave that move out, or end the plan, first.';
  return codeTaken ? 'Another lot there has the same code of your own. Change one of the two first.' : '';
}

/** What stands in the way of each lot going to a site (null: not chosen yet), by the lot's id. One query. */
export async function siteMoveRefusals(
  reader: SqlReader,
  lotIds: readonly string[],
  toSiteId: string | null,
): Promise<ReadonlyMap<string, string>> {
  const { rows } = await reader.query<Promises>(promisesQuery, [[...lotIds], toSiteId]);
  return new Map(rows.map((row) => [row.id, refusalOf(row)]));
}

/** Lots that go from one site to another. */
export interface SiteMove {
  lots: readonly { id: string; code: string; place: string; priceMinor: number | null }[];
  from: { id: string; name: string; currency: string | null };
  to: { id: string; name: string; currency: string | null };
  reason: string;
}

/**
 * Takes lots with all their history to another site, in the one transaction of the change. They leave their places; a
 * price in another currency is dropped. Both sites' journals say it. What the caller has locked and asked of
 * {@link siteMoveRefusals} is done.
 * @throws Refusal 409 where the water of a lot is against it
 */
export async function moveToSite(work: Work, { lots, from, to, reason }: SiteMove): Promise<void> {
  const gated = lots.map(({ id, code }) => ({ lotId: id, code }));
  await passGate(work, 'move', gated, { despite: reason, field: 'reason' });
  const leaving = lots
    .filter(({ place }) => place !== '')
    .map(({ id, code }) => ({ lotId: id, code, slotIds: [] }));
  await moveLots(work, from.id, leaving, { at: work.now, reason: `To ${to.name}` });
  const ids = lots.map(({ id }) => id);
  if (from.currency !== to.currency)
    await work.tx.lot.updateMany({ where: { id: { in: ids } }, data: { priceMinor: null } });
  await work.tx.lot.updateMany({
    where: { id: { in: ids } },
    data: { siteId: to.id, version: { increment: 1 } },
  });
  for (const { id, code, place, priceMinor } of lots) {
    const dropped = from.currency !== to.currency && priceMinor !== null;
    work.record('lot.site_changed', lotSubject(id), {
      code,
      from: from.name,
      to: to.name,
      place,
      reason,
      ...(dropped ? { priceDropped: priceMinor } : {}),
    });
  }
  const codes = lots.map(({ code }) => code);
  work.record('site.lots_left', { type: 'site', id: from.id }, { lots: codes, to: to.name, reason });
  work.record('site.lots_came', { type: 'site', id: to.id }, { lots: codes, from: from.name, reason });
}
