import { execFileSync, spawn } from 'node:child_process';
import { createHash, randomUUID } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Writable } from 'node:stream';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';
import { parse } from 'csv-parse/sync';
import { compactVerify, importJWK } from 'jose';
import pg from 'pg';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, inject, test } from 'vitest';
import { ZipFile } from 'yazl';
import { leftOut } from '../../src/backups/contents.ts';
import { bringInFarm } from '../../src/exports/farm/bring-in.ts';
import type { Manifest } from '../../src/exports/farm/manifest.schema.ts';
import { checkFarm, type FarmFile, openFarm } from '../../src/exports/farm/reader.ts';
import { ofInstallation } from '../../src/exports/farm/tables.ts';
import { writeFarm } from '../../src/exports/farm/writer.ts';
import { hashPassword } from '../../src/people/passwords.ts';
import { onConnection } from '../../src/platform/database/connection.ts';
import { migrate, migrationNames } from '../../src/platform/database/migrations.ts';
import { connect } from '../../src/platform/database.ts';
import { ownTagKeys } from '../../src/tags/record/signing.ts';
import { alteredTags } from '../../src/tags/tags/altered-tags.ts';
import { freshDatabase, onServer } from '../support/database.ts';
import { demoDatabase } from '../support/demo-bench.ts';
import { type Bench, benchOn, browse, type Visitor } from '../support/service.ts';

const command = fileURLToPath(new URL('../../src/exports/farm/commands.ts', import.meta.url));
const made = new Date('2026-11-24T08:00:00Z');
const serverUrl = (name: string) => inject('templateUrl').replace(/\/[^/]*$/, `/${name}`);

async function ask<T extends object>(url: string, sql: string, values: unknown[] = []): Promise<T[]> {
  const client = new pg.Client({ connectionString: url });
  client.on('error', () => undefined);
  await client.connect();
  return client
    .query<T>(sql, values)
    .then(({ rows }) => rows)
    .finally(() => client.end());
}

const databases: string[] = [];
/** A database with nothing in it. */
async function bare(like = ''): Promise<string> {
  const name = `farm_${randomUUID().replaceAll('-', '')}`;
  await onServer(`CREATE DATABASE ${name} ${like}`);
  databases.push(name);
  return serverUrl(name);
}
/** One of this version that holds no farm. */
const empty = () => bare('TEMPLATE template_evenwater STRATEGY FILE_COPY');

async function writeOut(url: string, name: string): Promise<{ path: string; manifest: Manifest }> {
  const path = join(folder, name);
  const database = connect(url, 1);
  const tagKeys = await ownTagKeys(database.db).finally(() => database.close());
  const manifest = await onConnection(url, (client) =>
    writeFarm(client, createWriteStream(path), { now: made, tagKeys }),
  );
  return { path, manifest };
}

async function text(farm: FarmFile, name: string): Promise<string> {
  const parts: Buffer[] = [];
  for await (const part of (await farm.content(name)) as AsyncIterable<Buffer>) parts.push(part);
  return Buffer.concat(parts).toString('utf8');
}
const records = async (farm: FarmFile, table: string) =>
  (await text(farm, `data/${table}.jsonl`))
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as Record<string, unknown>);

/** An archive of any files, as somebody might put together. */
async function zipOf(name: string, files: Record<string, Buffer | string>): Promise<string> {
  const zip = new ZipFile();
  for (const [path, content] of Object.entries(files)) zip.addBuffer(Buffer.from(content), path);
  zip.end();
  const parts: Buffer[] = [];
  for await (const part of zip.outputStream as unknown as AsyncIterable<Buffer>) parts.push(part);
  const path = join(folder, name);
  await writeFile(path, Buffer.concat(parts));
  return path;
}

const sums = ({ files }: Manifest) => Object.fromEntries(files.map(({ name, sha256 }) => [name, sha256]));
const unlike = (a: Manifest, b: Manifest): string[] => {
  const [one, other] = [sums(a), sums(b)];
  return [...new Set([...Object.keys(one), ...Object.keys(other)])].filter(
    (name) => one[name] !== other[name],
  );
};

let folder: string;
let source: Bench;
let owner: Visitor;
let tagToken: string;
let sourceUrl: string;
let whole: { path: string; manifest: Manifest };

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'evenwater-farm-'));
  const database = await demoDatabase();
  sourceUrl = database.url;
  source = await benchOn(database, { care: false, watching: false });
  await keepThings();
  whole = await writeOut(sourceUrl, 'whole.zip');
});

afterAll(async () => {
  await source.close();
  await rm(folder, { recursive: true, force: true });
  for (const name of databases)
    await ask(serverUrl('postgres'), `DROP DATABASE IF EXISTS ${name} WITH (FORCE)`);
});

/** What the demo farm has none of: a photo, a file, a tag, an instrument's key, odd words. */
async function keepThings(): Promise<void> {
  owner = await source.as('owner', 'Ines Varga');
  const { db } = source.service;
  const lot = await db.lot.findFirstOrThrow({
    where: { pieces: { gt: 1 }, placements: { some: { toAt: null } } },
    orderBy: { code: 'asc' },
  });
  const picture = await sharp({ create: { width: 80, height: 60, channels: 3, background: '#356' } })
    .jpeg()
    .toBuffer();
  for (const [to, field, name, content] of [
    [`/stock/${lot.code}/photo`, 'photo', 'lot.jpg', picture],
    [`/files/lot/${lot.id}`, 'file', 'permit.pdf', Buffer.from('%PDF-1.4\n% a permit')],
    [
      '/water/imports',
      'file',
      'readings.csv',
      Buffer.from('date,system,alkalinity\n2026-11-20,North hall,8.1\n'),
    ],
  ] as const) {
    const sent = { what: 'Import permit', at: '2026-11-24T07:00', note: '', pasted: '' };
    const { status } = await owner.upload(to, sent, { field, name, content });
    expect(status, to).toBe(303);
  }
  const { id: siteId } = await db.site.findFirstOrThrow();
  await db.siteMark.create({
    data: { siteId, image: new Uint8Array([137, 80, 78, 71]), width: 1, height: 1, changedAt: new Date() },
  });
  await db.lot.update({
    where: { id: lot.id },
    data: { note: '=SUM(A1) "quoted", back\\slash\nnew line\t\u2028 äö' },
  });
  const issued = await owner.post('/tags', { lot: lot.code, pieces: 1, reason: 'Sold at the gate' });
  expect(issued.status, issued.body).toBe(303);
  tagToken = (await db.tag.findFirstOrThrow()).token;
  expect((await owner.post('/people/keys', { name: 'Doser, long run' })).status).toBe(200);
  const passwordHash = await hashPassword('hers alone and long');
  await db.account.create({ data: { name: 'Odo', email: 'odo@example.org', passwordHash, role: 'manager' } });
}

describe('the archive of a farm', () => {
  test('holds each table as JSON lines and as CSV, and what is kept with them, as its manifest says', async () => {
    const farm = await openFarm(whole.path);
    await checkFarm(farm);
    for (const { name, rows } of whole.manifest.tables) {
      const count = `SELECT count(*)::int AS n FROM "${name}"`;
      const [row] = (await source.service.pool.query<{ n: number }>(count)).rows;
      // The digest of the day is made by itself meanwhile, and what probes showed is rolled up; the key that signed here stands in no table.
      if (!['digest', 'journal_line', 'reading_rollup', 'reading_unrolled', 'tag_key'].includes(name))
        expect(rows, name).toBe(row?.n);
      const lines = (await text(farm, `data/${name}.jsonl`)).split('\n').length - 1;
      expect(lines, name).toBe(rows);
      expect((parse(await text(farm, `csv/${name}.csv`)) as unknown[]).length, name).toBe(rows + 1);
    }
    const [photo] = await ask<{ id: string; image: Buffer }>(sourceUrl, 'SELECT id, image FROM photo');
    const parts: Buffer[] = [];
    for await (const part of (await farm.content(`photos/${photo?.id}.jpg`)) as AsyncIterable<Buffer>)
      parts.push(part);
    expect(Buffer.concat(parts).equals(photo?.image ?? Buffer.alloc(0))).toBe(true);
    expect(await text(farm, 'README.txt')).toContain('npm run import-farm');
    farm.close();
  });

  test('opens with a common tool, which finds no fault in it', () => {
    const said = execFileSync('python3', [
      '-c',
      'import sys, zipfile; print(zipfile.ZipFile(sys.argv[1]).testzip())',
      whole.path,
    ]);
    expect(said.toString().trim()).toBe('None');
  });

  test('has every column of bytes as files, and leaves out no table but those of the installation', async () => {
    const bytes = await ask<{ name: string }>(
      sourceUrl,
      `SELECT DISTINCT table_name AS name FROM information_schema.columns WHERE table_schema = 'public' AND data_type = 'bytea' ORDER BY 1`,
    );
    expect(bytes.map(({ name }) => name)).toEqual([
      'attached_file',
      'import',
      'kept_form',
      'letter',
      'mqtt_message',
      'photo',
      'rack_photograph',
      'site_mark',
    ]);
    const all = await ask<{ name: string }>(
      sourceUrl,
      `SELECT relname AS name FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace`,
    );
    const held = new Set(whole.manifest.tables.map(({ name }) => name));
    const out = all.map(({ name }) => name).filter((name) => !held.has(name));
    expect(out.sort()).toEqual([...leftOut, ...ofInstallation].sort());
  });

  test('holds no secret', async () => {
    const secrets = await ask<{ value: string }>(
      sourceUrl,
      `SELECT value FROM secret UNION ALL SELECT password_hash FROM account WHERE password_hash IS NOT NULL
       UNION ALL SELECT hash FROM access_key`,
    );
    const signing = secrets.flatMap(({ value }) =>
      value.startsWith('{') ? [(JSON.parse(value) as { d: string }).d] : [],
    );
    expect(signing).toHaveLength(1);
    const farm = await openFarm(whole.path);
    const all = (
      await Promise.all(
        whole.manifest.files
          .filter(({ name }) => !name.startsWith('photos'))
          .map(({ name }) => text(farm, name)),
      )
    ).join('\n');
    for (const secret of [...secrets.map(({ value }) => value), ...signing])
      expect(all.includes(secret)).toBe(false);
    expect(all).not.toMatch(/argon2|password_hash|pin_hash/);
    farm.close();
  });

  test('says kept figures in plain words, with their canonical unit', async () => {
    const kept = `\uE000value|temperature|°C|1|25.5\uE00125.5 °C\uE002`;
    await ask(sourceUrl, 'UPDATE site SET name = name || $1', [` at ${kept} and =cut \uE000noted|3`]);
    const { path } = await writeOut(sourceUrl, 'kept.zip');
    await ask(sourceUrl, "UPDATE site SET name = regexp_replace(name, ' at .*', '')");
    const farm = await openFarm(path);
    expect((await records(farm, 'site'))[0]?.name).toMatch(/ at 25\.5 °C and =cut $/);
    for (const { name } of farm.manifest.files)
      if (/^(data|csv)\//.test(name)) expect(await text(farm, name), name).not.toMatch(/[\uE000-\uE002]/);
    await farm.close();
  });

  test('lets anybody check its tags with the public key that is in it (RFC 7515, RFC 8037)', async () => {
    const farm = await openFarm(whole.path);
    const [{ key: x }] = (await records(farm, 'tag_key')) as [{ key: string }];
    const key = await importJWK({ kty: 'OKP', crv: 'Ed25519', x }, 'EdDSA');
    const tags = await records(farm, 'tag');
    expect(tags).toHaveLength(1);
    for (const { record, signature } of tags) {
      const { payload } = await compactVerify(String(signature), key);
      expect(new TextDecoder().decode(payload)).toBe(record);
    }
    farm.close();
  });

  test('ends early, and harms nobody, where whoever takes it goes away or the database does', async () => {
    const options = { now: made, tagKeys: [] };
    const gone = new Writable({ write: (_chunk, _encoding, done) => done(new Error('gone')) });
    await expect(onConnection(sourceUrl, (client) => writeFarm(client, gone, options))).rejects.toThrow(
      'gone',
    );
    const taken = new Writable({ write: (_chunk, _encoding, done) => done() });
    const cut = onConnection(sourceUrl, async (client) => {
      const { rows } = await client.query('SELECT pg_backend_pid() AS pid');
      const writing = writeFarm(client, taken, options);
      writing.catch(() => undefined);
      await source.service.pool.query('SELECT pg_terminate_backend($1)', [rows[0]?.pid]);
      return writing;
    });
    await expect(cut).rejects.toThrow();
  });

  test('made while people write is of one moment', async () => {
    let writing = true;
    const writer = (async () => {
      for (let n = 0; writing; n++)
        await source.change(async (work) => {
          const [{ id: systemId } = { id: '' }] = await work.tx.system.findMany({ take: 1 });
          const tank = await work.tx.tank.create({
            data: { systemId, name: `Load ${n}`, lengthMm: 100, widthMm: 100, heightMm: 100 },
          });
          work.record('tank.created', { type: 'tank', id: tank.id });
        });
    })();
    const { path } = await writeOut(sourceUrl, 'load.zip');
    writing = false;
    await writer;
    const farm = await openFarm(path);
    const lines = (await records(farm, 'journal_line')).filter(
      ({ kind, subject_type }) => kind === 'tank.created' && subject_type === 'tank',
    );
    const load = new Set(
      (await records(farm, 'tank'))
        .filter(({ name }) => String(name).startsWith('Load '))
        .map(({ id }) => id),
    );
    expect(lines.filter(({ subject_id }) => load.has(subject_id)).length).toBe(load.size);
    farm.close();
    await source.service.pool.query(`DELETE FROM tank WHERE name LIKE 'Load %'`);
  });
});

describe('a farm brought into another installation', () => {
  test('goes out of there again byte for byte, but for the line in the journal that says so', async () => {
    const target = await empty();
    const { owner: kept } = await bringInFarm(target, whole.path, folder, made);
    expect(kept).toBeNull();
    const again = await writeOut(target, 'again.zip');
    expect(unlike(whole.manifest, again.manifest)).toEqual([
      'data/journal_line.jsonl',
      'csv/journal_line.csv',
    ]);
    const [before, after] = [await openFarm(whole.path), await openFarm(again.path)];
    const [was, is] = [
      await text(before, 'data/journal_line.jsonl'),
      await text(after, 'data/journal_line.jsonl'),
    ];
    const more = is.split('\n').filter((line) => !was.includes(line));
    expect(more).toHaveLength(1);
    expect(more[0]).toContain('farm.brought_in');
    expect(is.length - was.length).toBe((more[0]?.length ?? 0) + 1);
    for (const farm of [before, after]) farm.close();
    // Its rules are in force again.
    await expect(ask(target, 'UPDATE ledger_entry SET change = 1')).rejects.toThrow();
    await expect(
      ask(
        target,
        `INSERT INTO tank (id, system_id, name) VALUES (gen_random_uuid(), gen_random_uuid(), 'x')`,
      ),
    ).rejects.toThrow();
  });

  test('is brought by its owner through a page, who goes on signing in, and looks as it did', async () => {
    const settings = { EVENWATER_DATA: join(folder, 'other') };
    const other = await benchOn(await freshDatabase(), { watching: false, settings });
    const visitor = browse(other.app);
    const welcome = {
      siteName: 'New place',
      timeZone: 'UTC',
      name: 'Ines',
      email: 'ines@example.org',
      password: 'quite a long one',
    };
    expect((await visitor.post('/welcome', welcome)).status).toBe(303);
    expect((await visitor.get('/farm')).body).toContain('/farm/bring-in');
    const file = { field: 'file', name: 'farm.zip', content: await readFile(whole.path) };
    const damaged = { ...file, content: file.content.subarray(0, 20_000) };
    const refused = await visitor.upload('/farm/bring-in', {}, damaged);
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('The file ends too early');
    const brought = await visitor.upload('/farm/bring-in', {}, file);
    expect(brought.status, brought.body).toBe(303);
    const farm = await visitor.get('/farm');
    expect(farm.body).toContain('each compared');
    expect(await readdir(join(folder, 'other/farm-in-work'))).toEqual([]);

    const plain = (html: string) =>
      /<main[\s\S]*<\/main>/
        .exec(html)?.[0]
        .replace(/name="_(csrf|key)" value="[^"]*"/g, '')
        .replace(/<div class="notice[\s\S]*?<\/div>/, '')
        // Which jobs wait to be judged is an installation's own.
        .replace(/<p data-being-judged[\s\S]*?<\/p>/, '') ?? '';
    const system = await source.service.db.system.findFirstOrThrow({ orderBy: { name: 'asc' } });
    const rack = await source.service.db.rack.findFirstOrThrow({ orderBy: { name: 'asc' } });
    const lot = await source.service.db.lot.findFirstOrThrow({ where: { tags: { some: {} } } });
    for (const path of [
      ...[
        '/stock',
        '/stock/ready',
        '/racks',
        '/kinds',
        '/water',
        '/water/kits',
        '/farm/equipment',
        '/farm/contacts',
      ],
      ...[
        `/stock/${lot.code}`,
        `/racks/${rack.id}`,
        `/water/systems/${system.id}`,
        `/water/systems/${system.id}/doses`,
      ],
      ...[`/water/systems/${system.id}/targets`, '/rounds/past', '/tags', `/t/${tagToken}`],
    ]) {
      const [there, here] = [await owner.get(path), await visitor.get(path)];
      expect(here.status, path).toBe(200);
      expect(plain(here.body), path).toBe(plain(there.body));
    }
    expect(await alteredTags(other.service.db)).toEqual([]);
    const { keys } = (await visitor.get('/t/key')).json() as { keys: { x: string }[] };
    expect(keys).toHaveLength(2);

    // Odo has no password here; no access key opens anything; the other owner's password is not known here.
    const odo = browse(other.app);
    await odo.post('/sign-in', { email: 'odo@example.org', password: 'hers alone and long' });
    expect((await odo.get('/stock')).status).toBe(303);
    const people = await other.service.db.account.findMany();
    expect(
      people.filter(({ passwordHash }) => passwordHash?.startsWith('$argon2')).map(({ name }) => name),
    ).toEqual(['Ines']);
    const ines = browse(other.app);
    expect(
      (await ines.post('/sign-in', { email: 'ines@example.org', password: 'quite a long one' })).location,
    ).toBe('/');

    const full = await visitor.upload('/farm/bring-in', {}, file);
    expect(full.body).toContain('This installation holds a farm already.');
    await other.close();
  });

  test('of an older version is brought to this one on the way', async () => {
    const names = await migrationNames();
    const old = await bare();
    await migrate(old, names.slice(0, -1));
    await ask(old, `INSERT INTO site (id, name, time_zone) VALUES (gen_random_uuid(), 'Old yard', 'UTC')`);
    await ask(
      old,
      `INSERT INTO system (id, site_id, name, volume_l) SELECT gen_random_uuid(), id, 'Long run', 900 FROM site`,
    );
    const path = join(folder, 'old.zip');
    await onConnection(old, (client) =>
      writeFarm(client, createWriteStream(path), { now: made, tagKeys: [] }),
    );
    const target = await empty();
    await bringInFarm(target, path, folder, made);
    expect(await ask(target, 'SELECT name, volume_l FROM system')).toEqual([
      { name: 'Long run', volume_l: 900 },
    ]);
    expect((await ask(target, 'SELECT 1 FROM _prisma_migrations')).length).toBe(names.length);
  });

  test('is refused, with nothing changed, where the file is not whole and its own', async () => {
    const target = await empty();
    const manifest = {
      service: 'Evenwater',
      holds: 'farm',
      format: 1,
      madeAt: made.toISOString(),
      sites: [],
      migrations: [],
      tables: [],
      files: [],
    };
    const bytes = await readFile(whole.path);
    const put = async (name: string, content: Buffer) => {
      await writeFile(join(folder, name), content);
      return join(folder, name);
    };
    const flipped = Buffer.from(bytes);
    flipped[Math.floor(bytes.length / 2)] = (flipped[Math.floor(bytes.length / 2)] ?? 0) ^ 0xff;
    const told = (files: object[]) => JSON.stringify({ ...manifest, files });
    const line = (name: string, content: string) => ({
      name,
      bytes: content.length,
      sha256: createHash('sha256').update(content).digest('hex'),
    });
    const cases: [RegExp, string][] = [
      [/There is no file/, join(folder, 'none.zip')],
      [/ends too early/, await put('cut.zip', bytes.subarray(0, bytes.length - 5_000))],
      [/is damaged|another length/, await put('flipped.zip', flipped)],
      [/not the archive of a farm/, await put('text.zip', Buffer.from('no archive at all'))],
      [/This is a backup/, await put('backup.zip', gzipSync('a backup'))],
      [/not the archive of a farm/, await zipOf('foreign.zip', { 'README.txt': 'x' })],
      [/belongs to no farm/, await zipOf('other.zip', { 'manifest.json': told([]), 'data/x.exe': 'x' })],
      [
        /newer Evenwater/,
        await zipOf('newer.zip', { 'manifest.json': JSON.stringify({ ...manifest, format: 2 }) }),
      ],
      [
        /newer Evenwater/,
        await zipOf('ahead.zip', {
          'manifest.json': JSON.stringify({ ...manifest, migrations: ['29990101000000_x'] }),
        }),
      ],
      [
        /lacks data\/lot\.jsonl/,
        await zipOf('lacks.zip', { 'manifest.json': told([line('data/lot.jsonl', 'x')]) }),
      ],
      [
        /its manifest says nothing/,
        await zipOf('more.zip', { 'manifest.json': told([]), 'data/lot.jsonl': '{}' }),
      ],
      [
        /is not what was written/,
        await zipOf('altered.zip', {
          'manifest.json': told([line('data/lot.jsonl', '{"a":1}')]),
          'data/lot.jsonl': '{"a":2}',
        }),
      ],
      [
        /would unpack to/,
        await zipOf('bomb.zip', { 'manifest.json': told([]), 'data/lot.jsonl': Buffer.alloc(50_000_000) }),
      ],
      [
        /leads out of it/,
        await put(
          'out.zip',
          Buffer.from(
            (await readFile(await zipOf('in.zip', { 'data/aa.jsonl': 'x' })))
              .toString('latin1')
              .replaceAll('data/aa.jsonl', '../../x.jsonl'),
            'latin1',
          ),
        ),
      ],
    ];
    for (const [says, path] of cases)
      await expect(bringInFarm(target, path, folder, made), path).rejects.toThrow(says);
    expect(await ask(target, 'SELECT 1 FROM site')).toEqual([]);
    await expect(bringInFarm(sourceUrl, whole.path, folder, made)).rejects.toThrow('holds a farm already');
  });

  test('killed in the middle leaves the installation as empty as it was', async () => {
    const target = await empty();
    const child = spawn(process.execPath, [command, 'import', whole.path], {
      env: { ...process.env, DATABASE_URL: target, EVENWATER_DATA: folder },
      stdio: 'ignore',
    });
    // Half-way: rows stand in the table that waits for them, in a transaction that is not at its end.
    await onConnection(target, async (client) => {
      for (;;) {
        const busy = await client.query(
          `SELECT 1 FROM pg_stat_activity WHERE datname = current_database() AND query LIKE '%pg_temp.incoming_line%' AND pid <> pg_backend_pid()`,
        );
        if (busy.rowCount !== 0) break;
        expect(child.exitCode).toBeNull();
        await wait(5);
      }
    });
    child.kill('SIGKILL');
    await new Promise((done) => child.once('exit', done));
    expect(
      await ask(
        target,
        'SELECT (SELECT count(*) FROM site)::int AS sites, (SELECT count(*) FROM lot)::int AS lots',
      ),
    ).toEqual([{ sites: 0, lots: 0 }]);
    const said = execFileSync(process.execPath, [command, 'import', whole.path], {
      env: { ...process.env, DATABASE_URL: target, EVENWATER_DATA: folder },
    }).toString();
    expect(said).toContain('each compared');
    expect(said).toContain('npm run password -- ADDRESS');
  });
});
