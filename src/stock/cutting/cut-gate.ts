import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { lotCare } from '../kinds/care.ts';
import { gateNotice, passGate } from '../pests/gate.ts';
import { type AgainstCut, againstCut, type CutFacts } from './cut-gate.rules.ts';

const factsQuery = `
  SELECT lot.id, site.time_zone AS "timeZone",
         CASE WHEN cut.id IS NULL AND lot.parent_id IS NULL THEN lot.arrived_at END AS "cameAt", cut.at AS "cutOffAt",
         (SELECT max(at) FROM cut AS made WHERE made.from_lot_id = lot.id) AS "cutFromAt",
         (SELECT max(placed_since(placement)) FROM placement WHERE lot_id = lot.id AND to_at IS NULL) AS "standsSince",
         CASE WHEN look.lot_id IS NULL THEN NULL ELSE json_build_object('state', look.state, 'grade', look.grade, 'at', look.at) END AS look,
         lot.quarantine_until AS "quarantineUntil",
         coalesce((SELECT min(tank.name) FROM lot_place JOIN tank ON tank.id = lot_place.tank_id
                    WHERE lot_id = lot.id AND (tank.quarantine OR EXISTS (
                          SELECT FROM quarantine WHERE tank_id = tank.id AND ended_at IS NULL))), '') AS "quarantineTank",
         EXISTS (SELECT FROM acclimation_lot WHERE lot_id = lot.id AND ended_at IS NULL) AS acclimating
    FROM lot JOIN site ON site.id = lot.site_id
    LEFT JOIN cut ON cut.into_lot_id = lot.id
    LEFT JOIN lot_look AS look ON look.lot_id = lot.id
   WHERE lot.id = ANY($1::uuid[])`;

interface FactsRow extends CutFacts {
  id: string;
  timeZone: string;
}

/** All that speaks against cutting each of these lots, besides pests, by lot. Five queries, however many. */
export async function againstCuts(
  reader: SqlReader,
  lotIds: readonly string[],
  { at, sizeMm }: { at: Date; sizeMm: number | null },
): Promise<ReadonlyMap<string, AgainstCut[]>> {
  const { rows } = await reader.query<FactsRow>(factsQuery, [[...lotIds]]);
  const care = await lotCare(reader, { lotIds });
  return new Map(
    rows.map(({ id, timeZone, look, ...facts }) => {
      const seen = look === null ? null : { ...look, at: new Date(look.at) };
      return [id, againstCut({ ...facts, look: seen }, care.get(id) ?? {}, { at, sizeMm, timeZone })];
    }),
  );
}

const words = (reasons: readonly AgainstCut[]) => reasons.map(({ text }) => text).join(' ');

/** Why one lot is not cut without a reason; '' where nothing asks for one. */
export function cutRefusal(code: string, reasons: readonly AgainstCut[], despite: string): string {
  const asking = reasons.filter(({ asks }) => asks);
  return asking.length === 0 || despite !== '' ? '' : `${code}: ${words(asking)} Say why you cut it anyway.`;
}

/**
 * Asks whether lots may be cut: by the rule of a pest, and by how each is. The reason is kept where one was asked for.
 * @returns what spoke against each, in words, by lot
 * @throws Refusal 409 beside "despite"
 */
export async function passCut(
  work: Work,
  lots: readonly { lotId: string; code: string }[],
  { at, sizeMm, despite }: { at: Date; sizeMm: number | null; despite: string },
): Promise<ReadonlyMap<string, string[]>> {
  await passGate(work, 'cut', lots, { despite });
  const ids = lots.map(({ lotId }) => lotId);
  const reasons = await againstCuts(readerOf(work.tx), ids, { at, sizeMm });
  for (const { lotId, code } of lots) {
    const refused = cutRefusal(code, reasons.get(lotId) ?? [], despite);
    if (refused !== '') throw new Refusal(refused, { status: 409, field: 'despite' });
  }
  return new Map(
    [...reasons].map(([id, all]) => [id, all.filter(({ asks }) => asks).map(({ text }) => text)]),
  );
}

/** What the page of a cut says before anything is sent; null where nothing speaks against it. */
export async function cutNotice(
  reader: SqlReader,
  lotId: string,
  now: Date,
): Promise<{ refused: boolean; why: string; asks: boolean } | null> {
  const pest = await gateNotice(reader, lotId, 'cut');
  const reasons = (await againstCuts(reader, [lotId], { at: now, sizeMm: null })).get(lotId) ?? [];
  if (pest === null && reasons.length === 0) return null;
  const why = [pest?.why ?? '', words(reasons)].filter((part) => part !== '').join(' ');
  return { refused: pest?.refused ?? false, why, asks: pest !== null || reasons.some(({ asks }) => asks) };
}
