import type { Pool, PoolClient } from 'pg';
import { uuidv7 } from 'uuidv7';
import type { CareFigure, CareFigures } from './care.schema.ts';
import { careGroups, methods, quantities } from './library.ts';

/**
 * Gives a farm the library it starts from: quantities, methods, kinds and their care. What is there already stays
 * as the farm has made it, so it can run at every start.
 */
export async function loadCare(pool: Pool): Promise<void> {
  const client = await pool.connect();
  try {
    await client.query('BEGIN');
    await loadQuantities(client);
    await loadKinds(client);
    await client.query('COMMIT');
  } catch (error) {
    await client.query('ROLLBACK');
    throw error;
  } finally {
    client.release();
  }
}

async function loadQuantities(client: PoolClient): Promise<void> {
  await client.query(
    `INSERT INTO quantity (code, name, position, canonical_unit, display_unit, decimals,
       plausible_low, plausible_high, possible_low, possible_high, source)
     SELECT code, name, position, "canonicalUnit", "displayUnit", decimals,
       "plausibleLow", "plausibleHigh", "possibleLow", "possibleHigh", source
     FROM json_to_recordset($1) AS row(code text, name text, position int, "canonicalUnit" text, "displayUnit" text,
       decimals int, "plausibleLow" float, "plausibleHigh" float, "possibleLow" float, "possibleHigh" float, source text)
     ON CONFLICT DO NOTHING`,
    [JSON.stringify(quantities())],
  );
  await client.query(
    `INSERT INTO method (id, quantity_code, name, absolute, relative, step, detection_limit, side_divisor, is_default, is_probe, note)
     SELECT id, "quantityCode", name, absolute, relative, step, "detectionLimit", "sideDivisor", "isDefault", coalesce("isProbe", false), note
     FROM json_to_recordset($1) AS row(id uuid, "quantityCode" text, name text, absolute float, relative float,
       step float, "detectionLimit" float, "sideDivisor" float, "isDefault" boolean, "isProbe" boolean, note text)
     ON CONFLICT DO NOTHING`,
    [JSON.stringify(methods().map((method) => ({ id: uuidv7(), ...method })))],
  );
}

async function loadKinds(client: PoolClient): Promise<void> {
  const groups = careGroups();
  const taxa = groups.flatMap((group) => group.taxa.map((taxon) => ({ ...taxon, parent: group.code })));
  for (const kinds of [groups.map((group) => ({ ...group, parent: null })), taxa]) {
    await client.query(
      `INSERT INTO kind (id, code, rank, parent_id, name, also_called, note, growth_form)
       SELECT row.id, row.code, row.rank, parent.id, row.name, row."alsoCalled", row.note, row."growthForm"
       FROM json_to_recordset($1) AS row(id uuid, code text, rank "KindRank", parent text, name text,
         "alsoCalled" text[], note text, "growthForm" "GrowthForm")
       LEFT JOIN kind parent ON parent.code = row.parent
       ON CONFLICT DO NOTHING`,
      [JSON.stringify(kinds.map(kindRow))],
    );
  }
  await loadFigures(client, [...groups, ...taxa]);
}

function kindRow(kind: {
  code: string;
  parent: string | null;
  name: string;
  alsoCalled: string[];
  note: string;
  growthForm?: string | undefined;
}) {
  const { code, parent, name, alsoCalled, note, growthForm = null } = kind;
  const rank = parent === null ? 'group' : 'taxon';
  return { id: uuidv7(), code, rank, parent, name, alsoCalled, note, growthForm };
}

async function loadFigures(
  client: PoolClient,
  kinds: readonly { code: string; figures: CareFigures }[],
): Promise<void> {
  const rows = kinds.flatMap(({ code, figures }) =>
    Object.entries(figures).map(([name, figure]) => figureRow(code, name, figure)),
  );
  await client.query(
    `INSERT INTO care_figure (id, kind_id, figure, low, high, words, basis, source)
     SELECT row.id, kind.id, row.figure, row.low, row.high, row.words, row.basis, row.source
     FROM json_to_recordset($1) AS row(id uuid, kind text, figure text, low float, high float, words text,
       basis "FigureBasis", source text)
     JOIN kind ON kind.code = row.kind
     ON CONFLICT DO NOTHING`,
    [JSON.stringify(rows)],
  );
}

/** What is weakly founded says so where people read its source. */
function figureRow(kind: string, figure: string, { confidence, source, ...rest }: CareFigure) {
  return { id: uuidv7(), kind, figure, ...rest, source: confidence ? `${source} (low confidence)` : source };
}
