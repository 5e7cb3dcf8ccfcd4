import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { type ComparedCut, type GroupingCode, sizeClass } from './compare.rules.ts';
import { type CountLine, followCut } from './pieces.rules.ts';

interface Row {
  cutAt: Date;
  pieces: number;
  tool: string;
  method: string;
  hand: string;
  kind: string;
  donor: string;
  rack: string;
  sizeMm: number | null;
  lines: (Omit<CountLine, 'at'> & { at: string })[];
  looks: string[];
}

const query = `
  SELECT cut.at AS "cutAt", cut.pieces, cut.tool, cut.method, coalesce(nullif(cut.cut_by, ''), account.name, '') AS hand, kind.name AS kind,
         coalesce(nullif(mother.own_code, ''), mother.code) AS donor,
         coalesce((SELECT rack.name FROM placement JOIN placement_slot ON placement_id = placement.id JOIN slot ON slot.id = slot_id
                     JOIN rack ON rack.id = slot.rack_id WHERE placement.lot_id = made.id ORDER BY placement.from_at LIMIT 1), '') AS rack,
         (SELECT (SELECT avg(size) FROM unnest(sizes) AS size) FROM size_measurement
           WHERE lot_id = made.id AND measure = 'length_mm' AND voided_at IS NULL AND at < cut.at + interval '1 day' ORDER BY at LIMIT 1) AS "sizeMm",
         coalesce((SELECT json_agg(json_build_object('at', entry.at, 'change', entry.change, 'reason', entry.reason, 'cause', entry.cause,
                            'missing', look.missing, 'voided', look.voided_at IS NOT NULL) ORDER BY entry.at, entry.id)
                     FROM ledger_entry AS entry LEFT JOIN healing_look AS look ON look.ledger_entry_id = entry.id
                    WHERE entry.lot_id = made.id AND entry.reason <> 'cut_in' AND entry.voided_at IS NULL), '[]') AS lines,
         coalesce((SELECT json_agg(at ORDER BY at) FROM healing_look WHERE cut_id = cut.id AND voided_at IS NULL), '[]') AS looks
    FROM cut
    JOIN lot AS mother ON mother.id = cut.from_lot_id
    JOIN lot AS made ON made.id = cut.into_lot_id
    JOIN kind ON kind.id = made.kind_id
    LEFT JOIN account ON account.id = cut.account_id
   WHERE made.site_id = $1::uuid AND ($2::timestamptz IS NULL OR cut.at > $2) AND ($3 = '' OR kind.code = $3)
   ORDER BY cut.at, cut.id`;

/** The cuts of a site with their pieces as they were followed, and the days between looks at which losses were found. */
export interface FollowedCuts {
  cuts: ComparedCut[];
  gaps: number[];
}

/** Reads what became of the pieces of a site's cuts: of one kind, or all; since a day, or ever. One query. */
export async function followedCuts(
  reader: SqlReader,
  siteId: string,
  { since, kindCode }: { since: Date | null; kindCode: string },
): Promise<FollowedCuts> {
  const { rows } = await reader.query<Row>(query, [siteId, since, kindCode]);
  const gaps: number[] = [];
  const cuts = rows.map((row) => {
    const lines = row.lines.map((line) => ({ ...line, at: new Date(line.at) }));
    const looks = row.looks.map((at) => new Date(at));
    const followed = followCut({ cutAt: row.cutAt, pieces: row.pieces, lines, looks });
    gaps.push(...followed.gaps);
    const { tool, method, hand, kind, donor, rack, sizeMm } = row;
    const of: Record<GroupingCode, string> = {
      ...{ tool, method, hand, kind, donor, rack },
      size: sizeClass(sizeMm),
    };
    return { pieces: followed.pieces, of };
  });
  return { cuts, gaps };
}
