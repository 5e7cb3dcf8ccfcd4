import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { lockLot, lotSubject, piecesAt } from '../base/lot-lock.ts';
import { takeCountBack } from '../lots/counts-taken-back.ts';
import { countLot } from '../lots/ledger.ts';
import { countFault, type HealingCount, healingWords, type TypedCount } from './healing.rules.ts';

/** A look at all pieces of a cut. */
export interface NewHealingLook extends TypedCount {
  at: Date;
  note: string;
}

/** The cut that a lot came from. @throws Refusal 404 where it was not cut here */
async function cutOf(work: Work, by: { id: string } | { intoLotId: string }) {
  const cut = await work.tx.cut.findUnique({ where: by as { id: string } });
  if (cut === null)
    throw new Refusal('This lot was not cut here, so there is no wound to look at.', { status: 404 });
  return cut;
}

/**
 * Enters what was counted of a cut's pieces. The dead and those not found leave the count of the lot in the same change.
 * @throws Refusal 404; 422 for a count that cannot be
 */
export async function noteHealing(
  work: Work,
  of: { id: string } | { intoLotId: string },
  { at, note, ...count }: NewHealingLook,
): Promise<{ id: string; code: string; lotId: string; words: string }> {
  const cut = await cutOf(work, of);
  const { id: lotId, code } = await lockLot(work.tx, cut.intoLotId);
  if (at < cut.at) throw new Refusal('It was cut only after that. Enter a later time.', { field: 'at' });
  const expected = await piecesAt(work.tx, lotId, at);
  if (expected === 0)
    throw new Refusal(`There were no pieces of ${code} then.`, { status: 409, field: 'at' });
  const fault = countFault(count, expected);
  if (fault !== null) throw new Refusal(fault.message, { field: fault.field });
  const seen: HealingCount = { at, ...count, dead: count.dead ?? 0, missing: count.missing ?? 0 };
  const gone = seen.dead + seen.missing;
  const words = healingWords(seen);
  const line =
    gone === 0
      ? null
      : await countLot(work, {
          lotId,
          reason: 'lost',
          cause: seen.dead > 0 ? 'cut_not_healed' : 'astray',
          pieces: gone,
          at,
          note: `Look after the cut: ${words}`,
        });
  const { id } = await work.tx.healingLook.create({
    data: { cutId: cut.id, ...seen, note, ledgerEntryId: line?.entryId ?? null, accountId: work.accountId },
  });
  work.record('healing.looked', lotSubject(lotId), { code, ...seen, note });
  return { id, code, lotId, words };
}

/**
 * Takes a look back that was entered wrong. What it took off the count comes back onto it.
 * @throws Refusal 404; 409 when it is void already
 */
export async function voidHealing(work: Work, id: string, reason: string): Promise<{ code: string }> {
  const look = await work.tx.healingLook.findUnique({ where: { id }, include: { cut: true } });
  if (look === null) throw notFound('This look');
  const { id: lotId, code } = await lockLot(work.tx, look.cut.intoLotId);
  const data = { voidedAt: work.now, voidReason: reason };
  const { count } = await work.tx.healingLook.updateMany({ where: { id, voidedAt: null }, data });
  if (count === 0) throw new Refusal('This look is void already.', { status: 409 });
  work.record('healing.voided', lotSubject(lotId), { code, look: id, reason });
  if (look.ledgerEntryId !== null)
    await takeCountBack(work, look.ledgerEntryId, `Look after the cut taken back. ${reason}`);
  return { code };
}

/** A cut with the lots around it and the looks at its pieces. */
export interface CutWithLooks {
  id: string;
  at: Date;
  pieces: number;
  /** How many there are now. */
  left: number;
  method: string;
  tool: string;
  hand: string;
  minutesOut: number | null;
  dip: string;
  against: string[];
  despite: string;
  from: { code: string; href: string };
  into: { id: string; code: string };
  kind: string;
  systemId: string | null;
  systemName: string;
  place: string;
  timeZone: string;
  /** Those that are not void, the oldest first. */
  looks: (HealingCount & { id: string; note: string; by: string })[];
}

const cutsQuery = `
  SELECT cut.id, cut.at, cut.pieces, made.pieces AS left, cut.method, cut.tool, cut.minutes_out AS "minutesOut", cut.dip,
         cut.against, cut.despite, coalesce(nullif(cut.cut_by, ''), account.name, '') AS hand,
         json_build_object('code', mother.code, 'href', '/stock/' || mother.code) AS "from",
         json_build_object('id', made.id, 'code', made.code) AS "into", kind.name AS kind,
         water.system_id AS "systemId", coalesce(system.name, '') AS "systemName",
         coalesce((SELECT min(rack_name) FROM lot_place WHERE lot_id = made.id), '') AS place, site.time_zone AS "timeZone",
         coalesce((SELECT json_agg(json_build_object('id', look.id, 'at', look.at, 'alive', look.alive, 'healed', look.healed,
                     'dead', look.dead, 'missing', look.missing, 'note', look.note, 'by', coalesce(looker.name, '')) ORDER BY look.at, look.id)
                     FROM healing_look AS look LEFT JOIN account AS looker ON looker.id = look.account_id
                    WHERE look.cut_id = cut.id AND look.voided_at IS NULL), '[]') AS looks
    FROM cut
    JOIN lot AS mother ON mother.id = cut.from_lot_id
    JOIN lot AS made ON made.id = cut.into_lot_id
    JOIN kind ON kind.id = made.kind_id
    JOIN site ON site.id = made.site_id
    LEFT JOIN account ON account.id = cut.account_id
    LEFT JOIN lot_water AS water ON water.lot_id = made.id
    LEFT JOIN system ON system.id = water.system_id`;

type CutRow = Omit<CutWithLooks, 'looks'> & {
  looks: (Omit<CutWithLooks['looks'][number], 'at'> & { at: string })[];
};

const read = (rows: readonly CutRow[]): CutWithLooks[] =>
  rows.map(({ looks, ...row }) => ({
    ...row,
    looks: looks.map((look) => ({ ...look, at: new Date(look.at) })),
  }));

/** Cuts of a site since a day, the newest first. One query. */
export async function cutsSince(reader: SqlReader, siteId: string, since: Date): Promise<CutWithLooks[]> {
  const { rows } = await reader.query<CutRow>(
    `${cutsQuery} WHERE made.site_id = $1::uuid AND cut.at > $2 ORDER BY cut.at DESC, cut.id`,
    [siteId, since],
  );
  return read(rows);
}

/** Cuts since a day whose pieces stand in these systems. One query. */
export async function cutsInSystems(
  reader: SqlReader,
  systemIds: readonly string[],
  since: Date,
): Promise<CutWithLooks[]> {
  const { rows } = await reader.query<CutRow>(
    `${cutsQuery} WHERE water.system_id = ANY($1::uuid[]) AND cut.at > $2 AND made.pieces > 0 ORDER BY cut.at, cut.id`,
    [[...systemIds], since],
  );
  return read(rows);
}

/** The cut that a lot came from, with its looks; null where it was not cut here. One query. */
export async function cutIntoLot(reader: SqlReader, lotId: string): Promise<CutWithLooks | null> {
  const { rows } = await reader.query<CutRow>(`${cutsQuery} WHERE cut.into_lot_id = $1::uuid`, [lotId]);
  return read(rows)[0] ?? null;
}
