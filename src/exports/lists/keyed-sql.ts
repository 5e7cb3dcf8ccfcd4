import type pg from 'pg';

/** The ends of the words SELECT and ORDER BY that are outside of every bracket and quote: the first and the last. */
function outerParts(sql: string): { select: number; order: { from: number; to: number } | null } {
  let depth = 0;
  let select = -1;
  let order: { from: number; to: number } | null = null;
  for (const { 0: word, index } of sql.matchAll(/'[^']*'|"[^"]*"|[()]|\bSELECT\b|\bORDER BY\b/g)) {
    if (word === '(') depth += 1;
    else if (word === ')') depth -= 1;
    else if (depth === 0 && word === 'SELECT' && select === -1) select = index + word.length;
    else if (depth === 0 && word === 'ORDER BY') order = { from: index, to: index + word.length };
  }
  return { select, order };
}

/** A list's query without an order, and with what it is ordered by as one value before its columns. */
function withOrderKey(sql: string): string {
  const { select, order } = outerParts(sql);
  const terms = order === null ? '' : sql.slice(order.to);
  const unordered = order === null ? sql : sql.slice(0, order.from);
  return `${unordered.slice(0, select)} jsonb_build_array(${terms}) AS "@order", ${unordered.slice(select)}`;
}

/** One page of a query. */
export interface SqlPage<Row> {
  fields: readonly pg.FieldDef[];
  rows: Row[];
  /** Behind which the next page begins; null at the end. */
  next: string | null;
}

/**
 * A page of a query that ends in its order. It begins behind `after`, which is a row's place in that order and not a
 * number of rows: what comes or goes meanwhile neither repeats nor hides any other. Equal places are told apart by what
 * the rows say. PostgreSQL reads the whole list for each page, and gives `limit` rows of it.
 */
export async function pageOfQuery<Row = Record<string, unknown>>(
  pool: pg.Pool,
  sql: string,
  values: readonly unknown[],
  { after, limit }: { after: string | null; limit: number },
): Promise<SqlPage<Row>> {
  const [from, most] = [values.length + 1, values.length + 2];
  const asked = `
    WITH chosen AS (${withOrderKey(sql)}),
         said AS (SELECT chosen.*, CASE WHEN count(*) OVER (PARTITION BY "@order") = 1 THEN '' ELSE md5(chosen::text) END AS "@said" FROM chosen),
         keyed AS (SELECT said.*, "@order" || jsonb_build_array("@said", row_number() OVER (PARTITION BY "@order", "@said")) AS "@key" FROM said)
    SELECT keyed.*, "@key"::text AS "@place" FROM keyed
     WHERE $${from}::jsonb IS NULL OR "@key" > $${from}::jsonb ORDER BY "@key" LIMIT $${most}`;
  // One row more tells whether there is another page.
  const { fields, rows } = await pool.query<Row & { '@place': string }>(asked, [...values, after, limit + 1]);
  const some = rows.slice(0, limit);
  return {
    fields: fields.filter(({ name }) => !name.startsWith('@')),
    rows: some,
    next: rows.length > limit ? (some.at(-1)?.['@place'] ?? null) : null,
  };
}
