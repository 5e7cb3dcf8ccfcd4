import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { plural } from '../../platform/words/numbers.ts';
import { leftOutWords } from './reading.words.ts';

/** What came of the last photograph of a rack. */
export interface LastTry {
  /** When it came. */
  at: Date;
  /** Why it was not read; null where it was. */
  why: string | null;
  /** The photograph that was kept; null where it was not read, or was taken back. */
  id: string | null;
  measured: number;
  /** Why lots were left out, and how many for each reason. */
  leftOut: { why: string; lots: number }[];
}

const query = `
  SELECT rack.id AS "rackId", last.at, last.detail ->> 'why' AS why, taken.id,
         (SELECT count(*)::int FROM rack_photograph_lot AS shown
           WHERE shown.photograph_id = taken.id AND shown.left_out IS NULL) AS measured,
         coalesce((SELECT json_agg(json_build_object('why', one.left_out, 'lots', one.lots) ORDER BY one.lots DESC, one.left_out)
                     FROM (SELECT left_out, count(*)::int AS lots FROM rack_photograph_lot
                            WHERE photograph_id = taken.id AND left_out IS NOT NULL GROUP BY left_out) AS one), '[]') AS "leftOut"
    FROM unnest($1::uuid[]) AS rack (id)
    CROSS JOIN LATERAL (SELECT at, detail FROM journal_line
                         WHERE subject_id = rack.id AND kind IN ('rack_photograph.added', 'rack_photograph.not_read')
                         ORDER BY at DESC, id DESC LIMIT 1) AS last
    LEFT JOIN rack_photograph AS taken ON taken.id = (last.detail ->> 'photograph')::uuid AND taken.voided_at IS NULL`;

/** What came of the last photograph of each of these racks, by rack; nothing for those of which none ever came. One query. */
export async function lastTries(sql: SqlReader, rackIds: readonly string[]): Promise<Map<string, LastTry>> {
  const { rows } = await sql.query<LastTry & { rackId: string }>(query, [rackIds]);
  return new Map(rows.map(({ rackId, ...last }) => [rackId, last]));
}

/** "12 lots measured.", "11 lots measured; 1 not: light is thrown back from it.", "Not read. It is blurred. …"; "" of none. */
export function lastWords(last: LastTry | undefined): string {
  if (last === undefined) return '';
  if (last.why !== null) return `Not read. ${last.why}`;
  if (last.id === null) return '';
  const why = (reason: string) => leftOutWords[reason as keyof typeof leftOutWords] ?? reason;
  const left = last.leftOut.map(({ why: reason, lots }) => `${lots} not: ${why(reason)}`);
  return `${plural(last.measured, 'lot', 'lots')} measured${left.map((words) => `; ${words}`).join('')}.`;
}
