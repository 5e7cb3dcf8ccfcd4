/** What a text of SQL does to a table. */
export interface TableUse {
  table: string;
  writes: boolean;
}

interface Token {
  text: string;
  kind: 'word' | 'quoted' | 'sign';
}

/** Stands in a text for what the program puts into it. */
export const hole = '¿';

/** Words, quoted names and signs of SQL, without strings and comments. */
function tokensOf(sql: string): Token[] {
  const pattern =
    /--[^\n]*|\/\*[\s\S]*?\*\/|'(?:[^']|'')*'|"((?:[^"]|"")*)"|([A-Za-z_][A-Za-z0-9_$]*)|[0-9.]+|::|[^\s]/g;
  const tokens: Token[] = [];
  for (const match of sql.matchAll(pattern)) {
    const [text, quoted, word] = match;
    if (text.startsWith('--') || text.startsWith('/*') || text.startsWith("'")) continue;
    if (quoted !== undefined) tokens.push({ text: quoted, kind: 'quoted' });
    else if (word !== undefined) tokens.push({ text: word, kind: 'word' });
    else tokens.push({ text, kind: 'sign' });
  }
  return tokens;
}

/** SQL is written with its keywords in capitals, so that prose with "from" in it is not taken for a query. */
const looksLikeSql = /\b(SELECT|FROM|JOIN|INSERT INTO|UPDATE|DELETE FROM|TRUNCATE|LOCK TABLE|MERGE INTO)\b/;

const notATable = new Set([
  'SELECT',
  'LATERAL',
  'ONLY',
  'VALUES',
  'ROWS',
  'SET',
  'NOTHING',
  'OF',
  'SKIP',
  'NOWAIT',
]);

/** Words after which a comma no longer means another table of the same FROM. */
const endsFrom = new Set([
  'WHERE',
  'GROUP',
  'ORDER',
  'HAVING',
  'LIMIT',
  'OFFSET',
  'UNION',
  'EXCEPT',
  'INTERSECT',
  'WINDOW',
  'SELECT',
  'RETURNING',
  'SET',
  'FOR',
  'FETCH',
  'VALUES',
  'AS_QUERY',
]);

/** Names that a WITH gives to a query in this text: `name AS (` and `name (columns) AS (`. */
export function namedQueries(sql: string): Set<string> {
  const tokens = tokensOf(sql);
  const names = new Set<string>();
  tokens.forEach((token, at) => {
    if (token.kind === 'sign' || token.text === token.text.toUpperCase()) return;
    const before = tokens[at - 1]?.text;
    if (before !== 'WITH' && before !== 'RECURSIVE' && before !== ',' && before !== hole && at > 0) return;
    let next = at + 1;
    if (tokens[next]?.text === '(') {
      while (next < tokens.length && tokens[next]?.text !== ')') next += 1;
      next += 1;
    }
    if (tokens[next]?.text !== 'AS') return;
    next += 1;
    if (tokens[next]?.text === 'NOT') next += 1;
    if (tokens[next]?.text === 'MATERIALIZED') next += 1;
    const inner = tokens[next + 1]?.text ?? '';
    if (tokens[next]?.text === '(' && /^(SELECT|WITH|INSERT|UPDATE|DELETE|VALUES|¿|\()$/.test(inner))
      names.add(token.text);
  });
  return names;
}

/** `EXTRACT(EPOCH FROM x)`, `IS DISTINCT FROM x`, `substring(x FROM y)`: a FROM that names no table. */
function isPlainFrom(tokens: readonly Token[], at: number): boolean {
  if (tokens[at - 1]?.text === 'DISTINCT')
    return tokens[at - 2]?.text !== 'IS' && tokens[at - 2]?.text !== 'NOT';
  let depth = 0;
  for (let back = at - 1; back >= 0; back -= 1) {
    const { text } = tokens[back] as Token;
    if (text === ')') depth += 1;
    else if (text === '(' && depth > 0) depth -= 1;
    else if (text === '(')
      return !/^(extract|substring|trim|overlay|position)$/i.test(tokens[back - 1]?.text ?? '');
    else if (depth === 0 && (text === 'SELECT' || text === 'DELETE' || text === 'UPDATE')) return true;
  }
  return true;
}

/**
 * The tables that a text of SQL names after FROM, JOIN, INTO, UPDATE, USING and TRUNCATE, without the queries that its
 * own WITH names and without functions. What the program puts in is `hole`; a table's name given so comes out as `?`.
 */
export function tablesIn(sql: string): TableUse[] {
  if (!looksLikeSql.test(sql)) return [];
  const tokens = tokensOf(sql);
  const own = namedQueries(sql);
  const uses: TableUse[] = [];

  const nameAt = (start: number, writes: boolean): number => {
    let at = start;
    while (tokens[at]?.text === 'ONLY' || tokens[at]?.text === 'LATERAL') at += 1;
    const token = tokens[at];
    if (token === undefined || token.text === '(') return at;
    if (token.text === hole) {
      uses.push({ table: '?', writes });
      return at + 1;
    }
    if (token.kind === 'sign' || (token.kind === 'word' && notATable.has(token.text))) return at;
    let name = token.text;
    while (tokens[at + 1]?.text === '.' && tokens[at + 2] !== undefined) {
      name = `${name}.${tokens[at + 2]?.text}`;
      at += 2;
    }
    const isFunction = tokens[at + 1]?.text === '(' && !writes;
    if (!isFunction && !own.has(name)) uses.push({ table: name.replace(/^public\./, ''), writes });
    return at + 1;
  };

  /** After one table of a FROM or USING list: the commas on the same depth bring more. */
  const listFrom = (start: number): void => {
    nameAt(start, false);
    let depth = 0;
    for (let at = start; at < tokens.length; at += 1) {
      const { text, kind } = tokens[at] as Token;
      if (text === '(') depth += 1;
      else if (text === ')') depth -= 1;
      if (depth < 0 || (depth === 0 && kind === 'word' && endsFrom.has(text))) return;
      if (depth === 0 && text === ',') nameAt(at + 1, false);
    }
  };

  tokens.forEach(({ text, kind }, at) => {
    if (kind !== 'word') return;
    const before = tokens[at - 1]?.text;
    if (text === 'FROM' && before === 'DELETE') nameAt(at + 1, true);
    else if (text === 'FROM' && isPlainFrom(tokens, at)) listFrom(at + 1);
    else if (text === 'USING' && tokens[at + 1]?.text !== '(') listFrom(at + 1);
    else if (text === 'JOIN') nameAt(at + 1, false);
    else if (text === 'INTO') nameAt(at + 1, true);
    else if (text === 'UPDATE' && !['DO', 'FOR', 'KEY', 'ON', 'BEFORE', 'AFTER', 'OR'].includes(before ?? ''))
      nameAt(at + 1, true);
    else if (text === 'TRUNCATE') nameAt(tokens[at + 1]?.text === 'TABLE' ? at + 2 : at + 1, true);
    else if (text === 'LOCK' && tokens[at + 1]?.text === 'TABLE') nameAt(at + 2, false);
  });
  return uses;
}
