import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { plural } from '../../platform/words/numbers.ts';
import { lotHref } from '../../stock/base/lot-href.ts';
import type { HeldAbove } from '../../stock/lots/resting.ts';

/** Tags of a lot issued since a time tell its record as it was then: said to whoever corrects that. One query. */
export async function tagsOnLot(reader: SqlReader, lotId: string, since: Date): Promise<string[]> {
  const { rows } = await reader.query<{ tags: number }>(
    `SELECT count(*)::int AS tags FROM tag WHERE lot_id = $1::uuid AND issued_at >= $2 AND withdrawn_at IS NULL`,
    [lotId, since],
  );
  const { tags } = rows[0] ?? { tags: 0 };
  if (tags === 0) return [];
  const say = tags === 1 ? 'says' : 'say';
  return [
    `${plural(tags, 'tag', 'tags')} of it ${say} what was entered before. A tag is never changed: withdraw it and issue another.`,
  ];
}

/** Lots of those given that have a tag which was not withdrawn, each with where it is seen. One query. */
export const taggedLots: HeldAbove = async (reader, lotIds) => {
  const { rows } = await reader.query<{ code: string }>(
    `SELECT DISTINCT lot.code FROM tag JOIN lot ON lot.id = tag.lot_id
      WHERE tag.lot_id = ANY($1::uuid[]) AND tag.withdrawn_at IS NULL ORDER BY lot.code`,
    [[...lotIds]],
  );
  return rows.map(({ code }) => ({ code, what: 'has a tag', href: lotHref(code) }));
};
