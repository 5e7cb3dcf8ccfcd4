import { onConnection } from '../src/platform/database/connection.ts';
import { withSchemaEngine } from '../src/platform/database/engine.ts';

const target = (text: string | null) =>
  text === null
    ? { tag: 'empty' }
    : { tag: 'schemaDatamodel', files: [{ path: 'schema.prisma', content: text }] };

/** SQL that turns what schema `from` describes (null: an empty database) into what `to` describes. */
export async function sqlBetween(url: string, from: string | null, to: string): Promise<string> {
  const filters = { externalTables: [], externalEnums: [] };
  const options = { script: true, exitCode: false, shadowDatabaseUrl: null, filters };
  const diff = await withSchemaEngine(url, to, (engine) =>
    engine.diff({ from: target(from), to: target(to), ...options }),
  );
  return (diff.stdout ?? '').replace(/^-- This is an empty migration\.\s*$/m, '').trim();
}

// What both the schema and the migrations speak of; checks, exclusion constraints, triggers and partial indexes
// are the migrations' alone and left out, as is which keys a trigger holds instead (`reading_origin`).
const catalogue = `
  SELECT format('column %s.%s %s %s default %s', table_name, column_name, udt_name || coalesce('(' || datetime_precision || ')', ''),
                is_nullable, coalesce(column_default, '-')) AS line
    FROM information_schema.columns JOIN information_schema.tables USING (table_schema, table_name)
   WHERE table_schema = 'public' AND table_type = 'BASE TABLE' AND table_name <> '_prisma_migrations'
  UNION ALL
  SELECT format('enum %s: %s', t.typname, string_agg(e.enumlabel, ',' ORDER BY e.enumsortorder))
    FROM pg_type t JOIN pg_enum e ON e.enumtypid = t.oid GROUP BY t.typname
  UNION ALL
  SELECT format('%s on %s: %s', CASE contype WHEN 'p' THEN 'primary key' ELSE 'foreign key' END, conrelid::regclass, regexp_replace(pg_get_constraintdef(oid), ' NOT ENFORCED$', ''))
    FROM pg_constraint WHERE contype IN ('p', 'f') AND connamespace = 'public'::regnamespace
     AND conrelid <> coalesce(to_regclass('_prisma_migrations'), 0)
  ORDER BY 1`;

const indexes = `
  SELECT indexdef AS line FROM pg_indexes JOIN pg_class ON pg_class.relname = indexname
    JOIN pg_index ON pg_index.indexrelid = pg_class.oid
   WHERE schemaname = 'public' AND tablename <> '_prisma_migrations' AND NOT indisexclusion AND NOT indisprimary
   ORDER BY 1`;

async function lines(url: string, query: string): Promise<Set<string>> {
  const { rows } = await onConnection(url, (client) => client.query(query));
  return new Set(rows.map((row) => row.line as string));
}

/**
 * Compares the catalogues of a migrated database and of one made from the schema alone.
 * Indexes that only the migrations have are allowed (hand-written partial ones).
 * @returns one line per disagreement; empty when they agree
 */
export async function disagreements(migratedUrl: string, schemaUrl: string): Promise<string[]> {
  const [migrated, schema] = await Promise.all([lines(migratedUrl, catalogue), lines(schemaUrl, catalogue)]);
  const [haveIndexes, wantIndexes] = await Promise.all([
    lines(migratedUrl, indexes),
    lines(schemaUrl, indexes),
  ]);
  return [
    ...[...schema].filter((line) => !migrated.has(line)).map((line) => `only in the schema: ${line}`),
    ...[...migrated].filter((line) => !schema.has(line)).map((line) => `only in the migrations: ${line}`),
    ...[...wantIndexes].filter((line) => !haveIndexes.has(line)).map((line) => `only in the schema: ${line}`),
  ];
}
