import { csvText } from '../../platform/csv.ts';

/** A file as it was read, as far as refused rows need it. */
interface ReadRows {
  rows: readonly (readonly string[])[];
  lines: readonly { row: number; column: string; state: string; reason: string }[];
  format: { layout: { headRow: number } };
  /** How many columns the head has. */
  columns: number;
}

/** The rows that were not taken, as they came, with the reason in a column of its own. */
export function refusedRows({ rows, lines, format, columns }: ReadRows): { text: string; rows: number } {
  const reasons = new Map<number, string[]>();
  for (const { row, column, state, reason } of lines) {
    if (state !== 'refused') continue;
    const given = column === '' ? reason : `${column}: ${reason}`;
    reasons.set(row, [...(reasons.get(row) ?? []), given]);
  }
  if (reasons.size === 0) return { text: '', rows: 0 };
  const { headRow } = format.layout;
  const width = Math.max(columns, ...[...reasons.keys()].map((row) => rows[row - 1]?.length ?? 0));
  const padded = (row: number) => Array.from({ length: width }, (_, i) => rows[row - 1]?.[i] ?? '');
  const head = headRow === 0 ? [] : [[...padded(headRow), 'why it was not taken']];
  const body = [...reasons].map(([row, all]) => [...padded(row), all.join(' ')]);
  return { text: csvText([...head, ...body]), rows: reasons.size };
}
