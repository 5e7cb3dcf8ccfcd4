/**
 * SQL: the name of who did what a row tells, beside a join of `account`; null where nobody is named. A file that names nobody
 * says nothing of who did it: whoever brought it in did not.
 *
 * @param row alias of a table with `import_id` and `account_id`
 * @param named its column with a name as a file says it
 */
export const whoDid = (row: string, named: 'done_by' | 'measured_by'): string =>
  `CASE WHEN ${row}.import_id IS NULL OR ${row}.${named} <> '' OR ${row}.account_id IS DISTINCT FROM brought_by(${row}.import_id)
        THEN coalesce(nullif(${row}.${named}, ''), account.name) END`;
