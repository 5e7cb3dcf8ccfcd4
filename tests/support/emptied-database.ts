import type pg from 'pg';
import { freshDatabase, type TestDatabase } from './database.ts';

// A database takes longer to make than to empty. What a file gives back, the next file of the same process gets as new, and
// with it the connections: a new one reads the catalogue and plans every query anew.

/** What the migrations themselves have written: rows, by table, as JSON; and how far the sequences have come by it. */
interface Seeded {
  rows: ReadonlyMap<string, string>;
  sequences: readonly { name: string; last: string }[];
}

interface Unused {
  database: TestDatabase;
  form: string;
}

const unused: Unused[] = [];
let seeded: Seeded | undefined;

/** Larger ones are thrown away: emptied they would still be slow to read, MB (own choice). */
const largestMb = 40;

/**
 * Tables, columns, constraints, triggers and functions of the service, in one word: a file may have changed them. Those of the
 * job runner come with the first file that runs jobs, and are the same for all.
 */
const formOf = `
  SELECT md5(concat(
    (SELECT string_agg(concat(oid, relname, relkind, relfilenode), ' ' ORDER BY oid) FROM pg_class WHERE relnamespace = 'public'::regnamespace),
    (SELECT string_agg(concat(attrelid, attname, atttypid, attnotnull, attisdropped), ' ' ORDER BY attrelid, attnum)
       FROM pg_attribute JOIN pg_class ON pg_class.oid = attrelid WHERE relnamespace = 'public'::regnamespace),
    (SELECT string_agg(concat(oid, conname), ' ' ORDER BY oid) FROM pg_constraint WHERE connamespace = 'public'::regnamespace),
    (SELECT string_agg(concat(pg_trigger.oid, tgenabled), ' ' ORDER BY pg_trigger.oid)
       FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid WHERE relnamespace = 'public'::regnamespace),
    (SELECT string_agg(concat(oid, md5(prosrc)), ' ' ORDER BY oid) FROM pg_proc WHERE pronamespace = 'public'::regnamespace)
  )) AS form, pg_database_size(current_database()) / 1e6 AS mb`;

const tablesWithRows = `
  SELECT format('%I.%I', nspname, relname) AS name
  FROM pg_class JOIN pg_namespace ON pg_namespace.oid = relnamespace
  WHERE nspname IN ('public', 'pgboss') AND relkind = 'r' AND pg_relation_size(pg_class.oid) > 0
    AND relname NOT IN ('_prisma_migrations', 'version', 'queue')`;

async function form(client: pg.Pool | pg.PoolClient) {
  const { rows } = await client.query<{ form: string; mb: number }>(formOf);
  return rows[0] ?? { form: '', mb: 0 };
}

async function tables(client: pg.Pool | pg.PoolClient): Promise<string[]> {
  return (await client.query<{ name: string }>(tablesWithRows)).rows.map(({ name }) => name);
}

async function readSeeded(pool: pg.Pool): Promise<Seeded> {
  const found = new Map<string, string>();
  for (const name of await tables(pool)) {
    const { rows } = await pool.query<{ all: string }>(`SELECT json_agg(t)::text AS all FROM ${name} AS t`);
    found.set(name, rows[0]?.all ?? '[]');
  }
  const { rows: sequences } = await pool.query<{ name: string; last: string }>(
    `SELECT format('%I.%I', schemaname, sequencename) AS name, last_value AS last FROM pg_sequences WHERE last_value IS NOT NULL`,
  );
  return { rows: found, sequences };
}

/** Ends what a file left at work, and waits until it has ended: what it still wrote would be there after all is deleted. */
async function endOthers(client: pg.PoolClient, own: readonly number[]): Promise<void> {
  const end = `SELECT pg_terminate_backend(pid, 10000) FROM pg_stat_activity
     WHERE datname = current_database() AND pid <> ALL ($1::int[]) AND backend_type = 'client backend'`;
  while (((await client.query(end, [own])).rowCount ?? 0) > 0);
}

/** What a file set on a connection or holds on it, but for the plans that it has learnt. */
const asNew = 'ROLLBACK; RESET ALL; SELECT pg_advisory_unlock_all(); UNLISTEN *; CLOSE ALL; DISCARD TEMP';

/** Waits until nobody has a connection any more, takes back what was done to each, and gives their numbers. */
async function connectionsAsNew(pool: pg.Pool): Promise<number[]> {
  const clients = await Promise.all(Array.from({ length: pool.totalCount }, () => pool.connect()));
  try {
    return await Promise.all(
      clients.map(async (client) => {
        await client.query(asNew);
        const { rows } = await client.query<{ pid: number }>('SELECT pg_backend_pid() AS pid');
        return rows[0]?.pid ?? 0;
      }),
    );
  } finally {
    for (const client of clients) client.release();
  }
}

/** All rows gone but those of the migrations; the job runner knows its queues, and has done nothing yet. */
async function empty(pool: pg.Pool, { rows: seededRows, sequences }: Seeded): Promise<void> {
  const own = await connectionsAsNew(pool);
  const client = await pool.connect();
  try {
    await endOthers(client, own);
    const named = await tables(client);
    // Neither triggers nor references are asked.
    await client.query("BEGIN; SET LOCAL session_replication_role = 'replica'");
    await client.query(named.map((name) => `DELETE FROM ${name}`).join(';'));
    await client.query('COMMIT');
    // Rows then lie in the order in which they come, as in a new database: what is asked for without an order would else
    // now and then come in another.
    if (named.length > 0) await client.query(`VACUUM ${named.join(', ')}`);
    await client.query("BEGIN; SET LOCAL session_replication_role = 'replica'");
    for (const [name, all] of seededRows)
      await client.query(`INSERT INTO ${name} SELECT * FROM json_populate_recordset(NULL::${name}, $1)`, [
        all,
      ]);
    await client.query(`SELECT setval(seqrelid, seqstart, false) FROM pg_sequence`);
    // Begun anew, one would give the numbers that rows of the migrations have.
    for (const { name, last } of sequences)
      await client.query('SELECT setval($1::regclass, $2)', [name, last]);
    // A database whose last user ran no jobs may lack their tables.
    const { rows } = await client.query<{ jobs: string | null }>(
      `SELECT to_regclass('pgboss.version') AS jobs`,
    );
    if (rows[0]?.jobs != null)
      await client.query(`
        UPDATE pgboss.version SET cron_on = NULL, bam_on = NULL, flow_on = NULL, reindex_on = NULL;
        UPDATE pgboss.queue SET monitor_on = NULL, monitor_claim_on = NULL, maintain_on = NULL`);
    await client.query('COMMIT');
    client.release();
  } catch (error) {
    client.release(true);
    throw error;
  }
}

/** A migrated database without rows. `close` gives it back. */
export async function emptiedDatabase(): Promise<TestDatabase> {
  const kept = unused.pop();
  if (kept === undefined) {
    const database = await freshDatabase();
    seeded ??= await readSeeded(database.pool);
    return givenBack(database, (await form(database.pool)).form);
  }
  const { database } = kept;
  const now = await form(database.pool);
  if (now.form !== kept.form || now.mb > largestMb) {
    await database.close();
    return emptiedDatabase();
  }
  await empty(database.pool, seeded ?? { rows: new Map(), sequences: [] });
  return givenBack(database, kept.form);
}

function givenBack(database: TestDatabase, form: string): TestDatabase {
  const { pool, db, takeBack } = database.lendOut();
  const close = async () => {
    const isWhole = await connectionsAsNew(database.pool).then(
      () => true,
      () => false,
    );
    takeBack();
    if (isWhole) unused.push({ database, form });
    else await database.close();
  };
  return { ...database, pool, db, close };
}
