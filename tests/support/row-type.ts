import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { parseSync } from '@swc/core';
import type pg from 'pg';

/** What a property of a row's interface allows. */
interface Declared {
  name: string;
  /** string, number, boolean, Date, array, or other (a named type: an enum of texts, or JSON). */
  kinds: Set<string>;
  nullable: boolean;
}

interface Node {
  type: string;
  [key: string]: unknown;
}

const keywords: Record<string, string> = {
  string: 'string',
  number: 'number',
  boolean: 'boolean',
  null: 'null',
};

function kindsOf(type: Node): string[] {
  switch (type.type) {
    case 'TsKeywordType':
      return [keywords[type.kind as string] ?? 'other'];
    case 'TsUnionType':
      return (type.types as Node[]).flatMap(kindsOf);
    case 'TsLiteralType':
      return [(type.literal as Node).type === 'NumericLiteral' ? 'number' : 'string'];
    case 'TsArrayType':
      return ['array'];
    case 'TsTypeReference':
      return [(type.typeName as { value?: string }).value === 'Date' ? 'Date' : 'other'];
    default:
      return ['other'];
  }
}

const nameOf = (node: unknown) => (node as { value: string }).value;

/** The file and the declaration of an interface that stands in a file or is imported by it. */
function declarationIn(file: string, name: string): { file: string; found: Node } {
  const body = parseSync(readFileSync(file, 'utf8'), { syntax: 'typescript' }).body as unknown as Node[];
  const found = body
    .map((node) => (node.declaration as Node | undefined) ?? node)
    .find((node) => node.type === 'TsInterfaceDeclaration' && nameOf(node.id) === name);
  if (found !== undefined) return { file, found };
  const source = body.find(
    (node) =>
      node.type === 'ImportDeclaration' &&
      (node.specifiers as Node[]).some((one) => nameOf(one.local) === name),
  );
  if (source === undefined) throw new Error(`${file} has no interface ${name}`);
  return declarationIn(join(dirname(file), nameOf(source.source)), name);
}

/** What an interface takes from a parent: all of it, or `Omit<Parent, 'a' | 'b'>`. */
function inherited(file: string, parent: Node): Declared[] {
  const given = ((parent.typeArguments as Node | null)?.params ?? []) as Node[];
  const name = nameOf(parent.expression);
  if (name !== 'Omit') return interfaceIn(file, name);
  const [from, left] = given as [Node, Node];
  const texts = left.type === 'TsUnionType' ? (left.types as Node[]) : [left];
  const without = new Set(texts.map((one) => nameOf(one.literal)));
  return interfaceIn(file, nameOf(from.typeName)).filter((one) => !without.has(one.name));
}

/** The properties of an interface with those of its parents, as the sources declare them. */
export function interfaceIn(asked: string, name: string): Declared[] {
  const { file, found } = declarationIn(asked, name);
  const own = ((found.body as Node).body as Node[]).map((property) => {
    const kinds = kindsOf((property.typeAnnotation as { typeAnnotation: Node }).typeAnnotation);
    return {
      name: nameOf(property.key),
      kinds: new Set(kinds.filter((kind) => kind !== 'null')),
      nullable: kinds.includes('null'),
    };
  });
  return [...(found.extends as Node[]).flatMap((parent) => inherited(file, parent)), ...own];
}

type Result = pg.QueryResult<Record<string, unknown>>;

/** A pool that keeps what each query through it gave. */
export function recording(pool: pg.Pool): { pool: pg.Pool; results: Result[] } {
  const results: Result[] = [];
  const query = async (sql: string, values?: unknown[]) => {
    const result = await pool.query<Record<string, unknown>>(sql, values);
    results.push(result);
    return result;
  };
  return { pool: { query } as unknown as pg.Pool, results };
}

const isText = (value: unknown) => typeof value === 'string';

/** Whether a value that came back is one of the kinds declared. */
function fits(value: unknown, kinds: ReadonlySet<string>): boolean {
  if (value instanceof Date) return kinds.has('Date');
  if (Array.isArray(value)) return kinds.has('array') || kinds.has('other');
  if (typeof value === 'object') return kinds.has('other');
  return kinds.has(typeof value) || (isText(value) && kinds.has('other'));
}

/** Kinds that a column of a type can give, by the type's name in PostgreSQL; others are not judged by it. */
const columnKinds: Record<string, string> = {
  bool: 'boolean',
  float8: 'number',
  int2: 'number',
  int4: 'number',
  int8: 'string',
  numeric: 'string',
  text: 'string',
  timestamptz: 'Date',
  uuid: 'string',
};

const columnQuery = `
  SELECT said.name, pg_type.typname AS type, coalesce(NOT attnotnull AND relkind = 'r', false) AS nullable
    FROM unnest($1::text[], $2::oid[], $3::oid[], $4::int[]) AS said(name, type, "table", "column")
    JOIN pg_type ON pg_type.oid = said.type
    LEFT JOIN pg_attribute ON attrelid = said."table" AND attnum = said."column" AND attnum > 0
    LEFT JOIN pg_class ON pg_class.oid = attrelid`;

/** Where a query's result and the interface of its rows part; one line each. */
export async function partings(
  pool: pg.Pool,
  declared: readonly Declared[],
  { fields, rows }: Result,
): Promise<string[]> {
  const { rows: columns } = await pool.query<{ name: string; type: string; nullable: boolean }>(columnQuery, [
    fields.map((field) => field.name),
    fields.map((field) => field.dataTypeID),
    fields.map((field) => field.tableID),
    fields.map((field) => field.columnID),
  ]);
  const undeclared = columns.filter(({ name }) => declared.every((one) => one.name !== name));
  const said = declared.flatMap(({ name, kinds, nullable }) => {
    const column = columns.find((one) => one.name === name);
    if (column === undefined) return [`${name} is declared, and the query does not give it`];
    const kind = columnKinds[column.type];
    const values = rows.map((row) => row[name]).filter((value) => value !== null);
    const odd = values.find((value) => !fits(value, kinds));
    const accepts = kind === undefined || kinds.has(kind) || (kind === 'string' && kinds.has('other'));
    return [
      ...(accepts && odd === undefined ? [] : [`${name} comes as ${column.type}`]),
      ...(!nullable && (column.nullable || values.length < rows.length) ? [`${name} can be null`] : []),
    ];
  });
  return [...said, ...undeclared.map(({ name }) => `${name} comes, and is not declared`)];
}

/** The result whose columns have most in common with the interface. */
export function closest(results: readonly Result[], declared: readonly Declared[]): Result {
  const names = new Set(declared.map(({ name }) => name));
  const common = ({ fields }: Result) => fields.filter(({ name }) => names.has(name)).length;
  const [best] = [...results].sort((a, b) => common(b) - common(a));
  if (best === undefined) throw new Error('no query was made');
  return best;
}
