import { createHash } from 'node:crypto';
import { basename } from 'node:path';
import { pipeline } from 'node:stream/promises';
import type pg from 'pg';
import { from as copyFrom, to as copyTo } from 'pg-copy-streams';
import { uuidv7 } from 'uuidv7';
import { plainSession } from '../../backups/contents.ts';
import { withRulesAside } from '../../backups/rules-aside.ts';
import { gatherStatistics } from '../../platform/database/statistics.ts';
import { dataName, type Manifest, rowsOf } from './manifest.schema.ts';
import { FarmFault, type FarmFile } from './reader.ts';
import { endedTables, type FarmTable, farmTables, linesIn, linesOut, rowsIn, waitingRoom } from './tables.ts';

/** Who brings the farm in and goes on signing in: the account as it was, and as it is called in the farm. */
export interface Owner {
  before: string;
  now: string;
}

/** What stands in a farm: an installation without any of it is empty. Names alone, of the site and its owner, are none. */
const holdsFarm = `
  SELECT EXISTS (SELECT FROM system) OR EXISTS (SELECT FROM lot) OR EXISTS (SELECT FROM circuit) OR EXISTS (SELECT FROM contact)
      OR EXISTS (SELECT FROM import) OR EXISTS (SELECT FROM kit) OR EXISTS (SELECT FROM round_plan)
      OR (SELECT count(*) FROM site) > 1 OR (SELECT count(*) FROM account) > 1 AS farm`;

/** Whether an installation holds nothing that a farm brought in would take the place of. */
export async function isEmpty(reader: Pick<pg.ClientBase, 'query'>): Promise<boolean> {
  const { rows } = await reader.query<{ farm: boolean }>(holdsFarm);
  return rows[0]?.farm === false;
}

/** @throws FarmFault */
export async function checkEmpty(reader: Pick<pg.ClientBase, 'query'>): Promise<void> {
  if (!(await isEmpty(reader)))
    throw new FarmFault(
      'This installation holds a farm already. A farm can only be brought into one that is empty: with its owner and its site, and no system, lot or other person yet.',
    );
}

async function fillTable(client: pg.ClientBase, farm: FarmFile, table: FarmTable): Promise<void> {
  await pipeline(await farm.content(dataName(table.name)), client.query(copyFrom(linesIn)));
  for (const { folder } of table.binaries) {
    for (const name of farm.inFolder(folder)) {
      const parts: Buffer[] = [];
      for await (const chunk of (await farm.content(name)) as AsyncIterable<Buffer>) parts.push(chunk);
      await client.query('INSERT INTO pg_temp.incoming_file VALUES ($1, $2, $3)', [
        folder,
        basename(name).replace(/\..*$/, ''),
        Buffer.concat(parts),
      ]);
    }
  }
  await client.query(rowsIn(table));
  await client.query('TRUNCATE pg_temp.incoming_line, pg_temp.incoming_file');
}

/** @throws FarmFault when a table, written out again, is not what came in */
async function compare(client: pg.ClientBase, { files, madeAt }: Manifest, table: FarmTable): Promise<void> {
  const hash = createHash('sha256');
  const lines = client.query(copyTo(linesOut(table, { at: madeAt, tagKeys: [] })));
  for await (const chunk of lines as AsyncIterable<Buffer>) hash.update(chunk);
  if (hash.digest('hex') !== files.find(({ name }) => name === dataName(table.name))?.sha256)
    throw new FarmFault(
      `The rows of ${table.name} came in otherwise than they were written. Nothing was kept.`,
    );
}

/** @throws FarmFault where the archive's tables are not those of its version */
function tablesIn({ tables }: Manifest, known: readonly FarmTable[]): FarmTable[] {
  const named = new Set(tables.map(({ name }) => name));
  const strange = tables.find(({ name }) => !known.some((table) => table.name === name));
  const missing = known.find(({ name }) => !named.has(name));
  if (strange !== undefined || missing !== undefined)
    throw new FarmFault(
      `The archive ${strange === undefined ? `lacks the table ${missing?.name}` : `holds a table ${strange.name}`}, unlike the version it names. Nothing was kept.`,
    );
  return [...known];
}

interface Kept {
  id: string;
  row: object;
}

async function ownerThere(client: pg.ClientBase): Promise<Kept | null> {
  const { rows } = await client.query<Kept>('SELECT id, to_json(account) AS row FROM account');
  return rows[0] ?? null;
}

/** Lets the owner of the empty installation go on signing in: as whom the farm knows by the same address, or beside all. */
async function keepOwner(client: pg.ClientBase, owner: Kept | null): Promise<Owner | null> {
  if (owner === null) return null;
  const row = [JSON.stringify(owner.row)];
  const known = await client.query<{ id: string }>(
    `UPDATE account SET password_hash = own.password_hash, role = 'owner', disabled_at = NULL,
            session_generation = own.session_generation
       FROM json_populate_record(NULL::account, $1) AS own
      WHERE account.id = (SELECT id FROM account AS there
                           WHERE there.id = own.id OR there.email = own.email ORDER BY there.id <> own.id LIMIT 1)
      RETURNING account.id`,
    row,
  );
  const now = known.rows[0]?.id ?? owner.id;
  if (known.rows.length === 0)
    await client.query(
      'INSERT INTO account SELECT own.* FROM json_populate_record(NULL::account, $1) AS own',
      row,
    );
  else
    for (const table of ['session', 'backup'])
      await client.query(`UPDATE ${table} SET account_id = $1 WHERE account_id = $2`, [now, owner.id]);
  return { before: owner.id, now };
}

async function noteInJournal(
  client: pg.ClientBase,
  { manifest }: FarmFile,
  owner: Owner | null,
  at: Date,
): Promise<void> {
  await client.query(
    `INSERT INTO journal_line (id, at, account_id, kind, subject_type, subject_id, detail)
     SELECT $1, $2, $3, 'farm.brought_in', 'site', id, $4 FROM site ORDER BY created_at, id LIMIT 1`,
    [uuidv7(), at, owner?.now ?? null, { madeAt: manifest.madeAt, rows: rowsOf(manifest) }],
  );
}

/**
 * Brings a farm into a database of the archive's own version that holds none, in one transaction: all of it or nothing.
 * Every table is written out again and compared before it is kept. `at` null: into a database of a moment's life, where
 * nobody signs in and no journal is kept.
 * @param client a connection of its own
 * @throws FarmFault
 */
export async function loadFarm(
  client: pg.ClientBase,
  farm: FarmFile,
  at: Date | null,
): Promise<Owner | null> {
  await client.query(plainSession);
  await client.query('BEGIN');
  const known = await farmTables(client);
  const every = [...known.map(({ name }) => name), ...(await endedTables(client))].map(
    (name) => `public."${name}"`,
  );
  await client.query("SET LOCAL lock_timeout = '60s'");
  await client.query(`LOCK TABLE ${every.join(', ')} IN ACCESS EXCLUSIVE MODE`);
  await checkEmpty(client);
  const tables = tablesIn(farm.manifest, known);
  const owner = at === null ? null : await ownerThere(client);
  const names = known.map(({ name }) => name);
  const kept = await withRulesAside(client, names, async () => {
    await client.query(`TRUNCATE ${every.join(', ')}`);
    await client.query(waitingRoom);
    for (const table of tables) {
      await fillTable(client, farm, table);
      await compare(client, farm.manifest, table);
    }
    return keepOwner(client, owner);
  });
  if (at !== null) await noteInJournal(client, farm, kept, at);
  await client.query('COMMIT');
  await gatherStatistics(client);
  return kept;
}
