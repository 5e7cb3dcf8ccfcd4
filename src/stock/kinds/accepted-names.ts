import type { SqlReader } from '../../platform/database/sql-reader.ts';

const query = `
  SELECT lower(other) AS old, min(kind.name) AS name FROM kind, unnest(kind.also_called) AS other
   WHERE kind.rank = 'taxon' AND NOT EXISTS (SELECT 1 FROM kind AS own WHERE lower(own.name) = lower(other))
   GROUP BY lower(other) HAVING count(DISTINCT kind.id) = 1`;

/** Gives the name that the library has today for one that a paper prints; the same where it knows no other. One query. */
export async function acceptedNames(reader: SqlReader): Promise<(printed: string) => string> {
  const { rows } = await reader.query<{ old: string; name: string }>(query, []);
  const names = new Map(rows.map(({ old, name }) => [old, name]));
  return (printed) => names.get(printed.trim().replace(/\s+/g, ' ').toLowerCase()) ?? printed;
}
