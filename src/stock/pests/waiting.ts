import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { pestInWords } from './pests.rules.ts';
import { openWatch } from './watches.ts';
import type { SlotWater } from './waters.ts';

// Pests seen on lots that stand in no water of the farm yet, such as one that came today: they wait for its first place.

/** A pest on a lot that stands in no water yet, or on the lot it was cut or split off. */
export interface WaitingPest {
  lotId: string;
  pest: string;
}

const query = `
  SELECT DISTINCT lot.id AS "lotId", seen.pest
    FROM lot JOIN pest_sighting AS seen ON seen.lot_id IN (lot.id, lot.parent_id) AND seen.watch_id IS NULL
    JOIN condition ON condition.id = seen.condition_id AND condition.voided_at IS NULL
   WHERE lot.id = ANY($1::uuid[]) ORDER BY lot.id, seen.pest`;

/** What waits for the first place of these lots. One query. */
export async function waitingPests(reader: SqlReader, lotIds: readonly string[]): Promise<WaitingPest[]> {
  return (await reader.query<WaitingPest & Record<string, unknown>>(query, [[...lotIds]])).rows;
}

/**
 * Lots on which a pest was seen before they stood anywhere get their first place: its water comes under watch with them. A
 * quarantine takes them without a question, and so does water that is watched for the same pest.
 * @throws Refusal 409 beside `field` where no reason is given for any other water
 */
export async function watchFirstPlaces(
  work: Work,
  moves: readonly { lotId: string; code: string; to: SlotWater }[],
  { at, despite, field }: { at: Date; despite: string; field: string },
): Promise<void> {
  const waiting = await waitingPests(
    readerOf(work.tx),
    moves.map(({ lotId }) => lotId),
  );
  for (const { lotId, code, to } of moves)
    for (const { pest } of waiting.filter((one) => one.lotId === lotId)) {
      const { systemId, tankId } = to;
      const known = await work.tx.pestWatch.count({ where: { systemId, tankId, pest, endedAt: null } });
      if (!to.quarantine && known === 0 && despite === '')
        throw new Refusal(
          `${code}: ${pestInWords(pest)} was seen on it, and all that shares its water would be under watch. Put it into a quarantine, or say why it goes here.`,
          { status: 409, field },
        );
      const why = `${code} came with it.`;
      const watchId = await openWatch(work, { systemId, tankId }, pest, { at, why });
      await work.tx.pestSighting.updateMany({
        where: { lotId, pest, watchId: null },
        data: { watchId, pest: '' },
      });
    }
}
