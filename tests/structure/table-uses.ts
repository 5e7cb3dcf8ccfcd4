import { globSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseSync } from '@swc/core';
import { type Model, type Models, modelsIn } from './models.ts';
import { floors } from './rules.ts';
import { hole, namedQueries, type TableUse, tablesIn } from './sql.ts';
import { foreign, ownerOf } from './tables.ts';

interface Node {
  type: string;
  [key: string]: unknown;
}

const isNode = (value: unknown): value is Node =>
  typeof value === 'object' && value !== null && typeof (value as Node).type === 'string';

function walk(value: unknown, visit: (node: Node) => void): void {
  if (Array.isArray(value)) for (const one of value) walk(one, visit);
  else if (typeof value === 'object' && value !== null) {
    if (isNode(value)) visit(value);
    for (const inner of Object.values(value)) if (typeof inner === 'object') walk(inner, visit);
  }
}

/** The text of a string or template; what the program puts in is a hole. */
function textOf(node: Node): string | null {
  if (node.type === 'StringLiteral') return node.value as string;
  if (node.type !== 'TemplateLiteral') return null;
  const quasis = node.quasis as { cooked: string | null; raw: string }[];
  return quasis.map(({ cooked, raw }) => cooked ?? raw).join(hole);
}

const reads = /^(findUnique|findFirst|findMany|findUniqueOrThrow|findFirstOrThrow|count|aggregate|groupBy)$/;
const writes =
  /^(create|createMany|createManyAndReturn|update|updateMany|updateManyAndReturn|upsert|delete|deleteMany)$/;
const writesInside =
  /^(create|createMany|connectOrCreate|update|updateMany|upsert|delete|deleteMany|connect|disconnect|set)$/;

/** Tables of relations that an argument of a client's call names: `include`, `select`, conditions and nested writes. */
function related(argument: unknown, model: Model, models: Models, inData: boolean): TableUse[] {
  if (Array.isArray(argument)) return argument.flatMap((one) => related(one, model, models, inData));
  if (!isNode(argument)) {
    const inner = (argument as { expression?: unknown } | null)?.expression;
    return inner === undefined ? [] : related(inner, model, models, inData);
  }
  if (argument.type === 'ArrayExpression') return related(argument.elements, model, models, inData);
  if (argument.type !== 'ObjectExpression') return [];
  return (argument.properties as Node[]).flatMap((property) => {
    if (property.type !== 'KeyValueProperty') return [];
    const key = (property.key as { value?: string }).value ?? '';
    const value = property.value as Node;
    const to = models.get(model.relations.get(key) ?? '');
    if (to === undefined)
      return related(value, model, models, inData || key === 'data' || key === 'create' || key === 'update');
    const written = inData && nestedWrite(value);
    return [{ table: to.table, writes: written }, ...related(value, to, models, inData)];
  });
}

function nestedWrite(value: Node): boolean {
  const keys = value.type === 'ObjectExpression' ? (value.properties as Node[]) : [];
  return keys.some((property) => {
    const key = (property.key as { value?: string } | undefined)?.value ?? '';
    return writesInside.test(key) && key !== 'connect' && key !== 'disconnect';
  });
}

/** A call of the Prisma client: which table it reads or writes, and those its relations reach. */
function clientUses(node: Node, models: Models): TableUse[] {
  const callee = node.callee as Node;
  if (callee.type !== 'MemberExpression') return [];
  const method = (callee.property as { value?: string }).value ?? '';
  const object = callee.object as Node;
  if (object.type !== 'MemberExpression' || !(reads.test(method) || writes.test(method))) return [];
  const model = models.get((object.property as { value?: string }).value ?? '');
  if (model === undefined) return [];
  return [
    { table: model.table, writes: writes.test(method) },
    ...related(node.arguments, model, models, false),
  ];
}

/** What one file of source does to tables, and the names its queries give to queries of their own. */
export function usesIn(source: string, models: Models): { uses: TableUse[]; named: Set<string> } {
  const uses: TableUse[] = [];
  const named = new Set<string>();
  walk(parseSync(source, { syntax: 'typescript' }).body, (node) => {
    if (node.type === 'CallExpression') uses.push(...clientUses(node, models));
    const text = textOf(node);
    if (text === null) return;
    uses.push(...tablesIn(text));
    for (const name of namedQueries(text)) named.add(name);
  });
  return { uses, named };
}

/** Uses that are known and left, each with its reason: `file: reads|writes table`. */
export type Allowed = Readonly<Record<string, string>>;

const heightOf = (area: string) => floors.findIndex((floor) => floor.includes(area));

/** What is wrong with the use of a table by an area; null when nothing is. */
function fault(
  area: string,
  { table, writes: written }: TableUse,
  known: ReadonlySet<string>,
): string | null {
  if (table === '?') return 'names a table that only shows when it runs: write the name into the text';
  const owner = ownerOf(table);
  if (owner === undefined)
    return foreign.test(table) || known.has(table) ? null : `names ${table}, which has no owner in tables.ts`;
  if (owner === area) return null;
  if (written) return `writes ${table}, which is ${owner}'s`;
  return heightOf(owner) < heightOf(area) ? null : `reads ${table}, which is ${owner}'s`;
}

/** The views that the migrations make, each as it was last defined. */
export function viewsIn(baseDir: string): ReadonlyMap<string, string> {
  const scripts = globSync('prisma/migrations/*/migration.sql', { cwd: baseDir }).sort();
  return new Map(
    scripts
      .map((file) => readFileSync(join(baseDir, file), 'utf8'))
      .flatMap((sql) => [...sql.matchAll(/CREATE (?:OR REPLACE )?VIEW (\w+) AS([^;]*);/g)])
      .map(([, name = '', query = '']) => [name, query]),
  );
}

function viewFaults(baseDir: string): string[] {
  return [...viewsIn(baseDir)].flatMap(([view, query]) =>
    tablesIn(query).flatMap((use) => {
      const said = fault(ownerOf(view) ?? '', use, new Set());
      return said === null ? [] : [`the view ${view}: ${said}`];
    }),
  );
}

/** Uses of tables that run up the floors or write what another area owns, and tables nobody owns; one line each. */
export function inspectTables(baseDir: string, allowed: Allowed = {}): string[] {
  const models = modelsIn(readFileSync(join(baseDir, 'prisma/schema.prisma'), 'utf8'));
  const files = globSync('src/*/**/*.ts', { cwd: baseDir })
    .filter((file) => !/^src\/(generated|browser)\//.test(file))
    .sort()
    .map((file) => ({
      file,
      area: file.split('/')[1] ?? '',
      ...usesIn(readFileSync(join(baseDir, file), 'utf8'), models),
    }));
  const named = new Set(files.flatMap((one) => [...one.named]));
  const found = files.flatMap(({ file, area, uses }) =>
    uses.flatMap((use) => {
      if (/\.(pages|api)\.ts$/.test(file))
        return [
          `${file}: asks for ${use.table} itself: a function of the noun's operations or queries does that`,
        ];
      const said = fault(area, use, named);
      return said === null ? [] : [`${file}: ${said}`];
    }),
  );
  const lines = [...new Set([...found, ...viewFaults(baseDir)])];
  const stale = Object.keys(allowed).filter((line) => !lines.includes(line));
  return [
    ...lines.filter((line) => !(line in allowed)),
    ...stale.map((line) => `an exception that is no longer needed: ${line}`),
  ];
}

if (process.argv[1]?.endsWith('table-uses.ts') === true) {
  const found = inspectTables(process.cwd());
  process.stdout.write(`${found.join('\n')}\n${found.length} found\n`);
}
