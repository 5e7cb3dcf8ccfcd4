import { describe, expect, test } from 'vitest';
import { hole, tablesIn } from './sql.ts';

const reads = (sql: string) =>
  tablesIn(sql)
    .filter((use) => !use.writes)
    .map((use) => use.table);
const writes = (sql: string) =>
  tablesIn(sql)
    .filter((use) => use.writes)
    .map((use) => use.table);

describe('the tables that a text of SQL reads', () => {
  test.each([
    ['after FROM and JOIN', 'SELECT 1 FROM lot JOIN kind ON kind.id = lot.kind_id', ['lot', 'kind']],
    ['under an alias', 'SELECT a.id FROM lot AS a LEFT JOIN kind k ON k.id = a.kind_id', ['lot', 'kind']],
    ['after a comma', 'SELECT 1 FROM lot, kind AS k, jsonb_each(x) AS e WHERE a IN (1, 2)', ['lot', 'kind']],
    ['within brackets', 'SELECT (SELECT count(*) FROM cut) AS n, b FROM lot', ['lot', 'cut']],
    ['in a lateral query', 'SELECT 1 FROM lot CROSS JOIN LATERAL (SELECT 1 FROM cut) AS c', ['lot', 'cut']],
    ['with quotes and a schema', 'SELECT 1 FROM public."lot"', ['lot']],
    ['beside DISTINCT ON', 'SELECT DISTINCT ON (lot_id) id FROM cut', ['cut']],
    ['after USING of a DELETE', 'DELETE FROM cut USING lot WHERE true', ['lot']],
    ['from what is put in', `SELECT 1 FROM ${hole} AS entry`, ['?']],
    ['in a piece of a query', 'LEFT JOIN tank ON tank.id = entry.tank_id', ['tank']],
  ])('%s', (_, sql, tables) => expect(reads(sql).sort()).toEqual([...tables].sort()));

  test.each([
    ['queries that its own WITH names', 'WITH held AS (SELECT 1 FROM hold) SELECT 1 FROM held', ['hold']],
    [
      'the second of them',
      'WITH a AS (SELECT 1), b AS MATERIALIZED (SELECT 1 FROM lot) SELECT 1 FROM a, b',
      ['lot'],
    ],
    ['functions', 'SELECT 1 FROM unnest($1::uuid[]) AS asked(id)', []],
    ['parts of a date or a text', 'SELECT extract(epoch FROM at), substring(name FROM 2) FROM lot', ['lot']],
    ['comparisons', 'SELECT 1 FROM lot WHERE name IS DISTINCT FROM code', ['lot']],
    ['strings and comments', "SELECT 'FROM kind' -- JOIN cut\n FROM lot /* JOIN hold */", ['lot']],
    ['prose', 'What comes from lot and joins kind', []],
  ])('leave out %s', (_, sql, tables) => expect(reads(sql)).toEqual(tables));
});

describe('the tables that a text of SQL writes', () => {
  test.each([
    ['INSERT INTO', 'INSERT INTO cut (id) SELECT id FROM lot', ['cut']],
    ['UPDATE', 'UPDATE lot SET name = said.name FROM unnest($1) AS said', ['lot']],
    ['DELETE FROM', 'DELETE FROM lot WHERE id = $1', ['lot']],
    ['TRUNCATE', 'TRUNCATE TABLE lot', ['lot']],
    ['an UPDATE within a WITH', 'WITH used AS (UPDATE lot SET a = 1) SELECT 1 FROM used', ['lot']],
    ['a name that is put in', `INSERT INTO ${hole} (id) VALUES (1)`, ['?']],
  ])('stand after %s', (_, sql, tables) => expect(writes(sql)).toEqual(tables));

  test('leave out locks and ON CONFLICT', () => {
    expect(writes('SELECT 1 FROM lot FOR UPDATE')).toEqual([]);
    expect(writes('INSERT INTO lot (id) VALUES (1) ON CONFLICT (id) DO UPDATE SET a = 1')).toEqual(['lot']);
  });
});
