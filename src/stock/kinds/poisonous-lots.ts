import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { isPoisonous, kindCare } from './care.ts';
import { POISONOUS_SQL, poisonousIn } from './poison.rules.ts';

/** A lot that may hold palytoxin or its kin, and where it stands; `systemId` null where it stands nowhere on the books. */
export interface PoisonousLot {
  code: string;
  /** What tells of it: its kind, or the name that it is identified or sold by. */
  name: string;
  systemId: string | null;
  rack: string;
}

const query = `
  SELECT lot.code, kind.name AS kind, lot.trade_name AS "tradeName", coalesce(named.scientific_name, '') AS "identifiedAs",
         lot.kind_id = ANY($2::uuid[]) OR EXISTS (SELECT FROM care_figure WHERE lot_id = lot.id AND words ~* 'palytoxin') AS known,
         here.system_id AS "systemId", coalesce(here.rack_name, '') AS rack
    FROM lot JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN LATERAL (SELECT scientific_name FROM identification WHERE lot_id = lot.id
                        ORDER BY date_identified DESC, created_at DESC LIMIT 1) AS named ON true
    LEFT JOIN LATERAL (SELECT DISTINCT ON (system_id) system_id, rack_name FROM lot_place WHERE lot_id = lot.id
                        ORDER BY system_id, rack_name) AS here ON true
   WHERE lot.site_id = $1::text::uuid AND lot.pieces > 0
     AND (lot.kind_id = ANY($2::uuid[]) OR lot.trade_name || ' ' || coalesce(named.scientific_name, '') ~* '${POISONOUS_SQL}'
          OR EXISTS (SELECT FROM care_figure WHERE lot_id = lot.id AND words ~* 'palytoxin'))
   ORDER BY rack, lot.code`;

/** Lots of a site that may hold a strong poison, by their kind's care, their own, or a name. Two queries. */
export async function poisonousLots(reader: SqlReader, siteId: string): Promise<PoisonousLot[]> {
  const cautions = await kindCare(reader, { figure: 'caution' });
  const kinds = [...cautions].filter(([, care]) => isPoisonous(care)).map(([id]) => id);
  interface Row extends Omit<PoisonousLot, 'name'> {
    kind: string;
    tradeName: string;
    identifiedAs: string;
    known: boolean;
  }
  const { rows } = await reader.query<Row>(query, [siteId, kinds]);
  return rows.flatMap(({ code, kind, tradeName, identifiedAs, known, systemId, rack }) => {
    if (!known && poisonousIn([identifiedAs, tradeName]) === null) return [];
    return [{ code, systemId, rack, name: identifiedAs || tradeName || kind }];
  });
}
