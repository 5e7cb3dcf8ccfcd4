import { readFileSync } from 'node:fs';
import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { expect, test } from 'vitest';
import { modelsIn } from './models.ts';
import { floors } from './rules.ts';
import { inspectTables, viewsIn } from './table-uses.ts';
import { owners } from './tables.ts';

const schema = readFileSync('prisma/schema.prisma', 'utf8');

/** What the check says of these sources, under the project's own model. */
async function saidOf(files: Record<string, string>, allowed = {}): Promise<string[]> {
  const dir = await mkdtemp(join(tmpdir(), 'evenwater-tables-'));
  for (const [file, text] of Object.entries({ 'prisma/schema.prisma': schema, ...files })) {
    await mkdir(dirname(join(dir, file)), { recursive: true });
    await writeFile(join(dir, file), text);
  }
  const said = inspectTables(dir, allowed);
  await rm(dir, { recursive: true });
  return said;
}

test.each([
  ['reads up the floors', 'pool.query(`SELECT id FROM reading`)', "reads reading, which is water's"],
  ['reads up through the client', 'db.reading.findMany()', "reads reading, which is water's"],
  [
    'reads up through a relation',
    'db.lot.findMany({ include: { kind: true, tags: true } })',
    "reads tag, which is tags's",
  ],
  ['writes below', 'pool.query(`UPDATE tank SET name = $1`)', "writes tank, which is farm's"],
  ['writes below in a transaction', 'work.tx.tank.update({ where: { id } })', "writes tank, which is farm's"],
  ['writes below with raw SQL', 'tx.$executeRaw`DELETE FROM tank`', "writes tank, which is farm's"],
  [
    'writes below through a relation',
    'db.lot.create({ data: { placements: { create: { slots: { create: { slot: { create: {} } } } } } } })',
    "writes slot, which is farm's",
  ],
  [
    'names a table that nobody owns',
    'pool.query(`SELECT 1 FROM reef`)',
    'names reef, which has no owner in tables.ts',
  ],
  [
    'hides the name of a table',
    `pool.query(\`SELECT 1 FROM \${table}\`)`,
    'names a table that only shows when it runs: write the name into the text',
  ],
])('a file of the stock that %s is found', async (_, statement, said) => {
  const file = 'src/stock/lots/planted.ts';
  expect(await saidOf({ [file]: `export const planted = () => ${statement};\n` })).toEqual([
    `${file}: ${said}`,
  ]);
});

test('what an area owns and what stands below it are used freely', async () => {
  const own =
    'db.lot.update({ where: { id }, data: { kind: { connect: { id } } }, include: { parent: true } })';
  const below =
    'pool.query(`WITH here AS (SELECT id FROM tank) SELECT 1 FROM here, open_alert JOIN cut ON true`)';
  expect(
    await saidOf({ 'src/stock/lots/lots.ts': `export const used = () => [${own}, ${below}];\n` }),
  ).toEqual([]);
});

test('a read of the area beside is found', async () => {
  const text = 'export const beside = () => db.reading.count();\n';
  expect(await saidOf({ 'src/racks/moves/moves.ts': text })).toHaveLength(1);
});

test('a page that asks the database itself is found, and so is a JSON route', async () => {
  const said = await saidOf({
    'src/stock/lots/lots.pages.ts': 'export const page = () => db.lot.count();\n',
    'src/stock/lots/lots.api.ts': 'export const route = () => pool.query(`SELECT 1 FROM lot`);\n',
  });
  const what = "asks for lot itself: a function of the noun's operations or queries does that";
  expect(said).toEqual([`src/stock/lots/lots.api.ts: ${what}`, `src/stock/lots/lots.pages.ts: ${what}`]);
});

test('an exception passes, and is refused once nothing needs it', async () => {
  const line = "src/stock/lots/lots.ts: reads tag, which is tags's";
  const sources = { 'src/stock/lots/lots.ts': 'export const left = () => db.tag.count();\n' };
  expect(await saidOf(sources, { [line]: 'a reason' })).toEqual([]);
  expect(await saidOf({}, { [line]: 'a reason' })).toEqual([
    `an exception that is no longer needed: ${line}`,
  ]);
});

test('every table and view has one owner, who is an area, and no owner names one that is not there', () => {
  const named = Object.values(owners).flat();
  const there = [
    ...[...modelsIn(schema).values()].map(({ table }) => table),
    ...viewsIn(process.cwd()).keys(),
  ];
  expect([...named].sort()).toEqual(there.sort());
  expect(Object.keys(owners).filter((area) => !floors.flat().includes(area))).toEqual([]);
});

test('a view that reads up the floors is found by its newest definition', async () => {
  const said = await saidOf({
    'prisma/migrations/1_first/migration.sql': 'CREATE VIEW lot_place AS SELECT 1 FROM reading;',
    'prisma/migrations/2_second/migration.sql':
      'CREATE OR REPLACE VIEW lot_place AS SELECT 1 FROM placement JOIN tag ON true;',
  });
  expect(said).toEqual(["the view lot_place: reads tag, which is tags's"]);
});
