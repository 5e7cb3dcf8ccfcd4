import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import type { FileLine, ParsedLine } from '../file/lines.rules.ts';

/** How many lines one query asks about; own choice. */
const linesPerQuery = 2000;
/** Values that agree to this share are the same: an exported file holds six digits, the database more. */
const valueTolerance = 2e-5;

interface DuplicateQuery {
  i: number;
  system: string;
  code: string;
  at: string;
  value: number;
  below: boolean;
  laboratory: string;
}

// A file's clock shows seconds, ours more; a laboratory's value and the bench's are two readings.
const query = `
  SELECT asked.i
    FROM json_to_recordset($1::json) AS asked(i int, system uuid, code text, at timestamptz, value float8, below boolean, laboratory text)
   WHERE EXISTS (SELECT 1 FROM (
           SELECT value, method_id FROM reading
            WHERE system_id = asked.system AND quantity_code = asked.code AND voided_at IS NULL
              AND at >= date_trunc('second', asked.at) AND at < date_trunc('second', asked.at) + interval '1 second'
              AND below_detection = asked.below OFFSET 0) AS near
           LEFT JOIN method ON method.id = near.method_id
          WHERE abs(near.value - asked.value) <= $2::float8 * greatest(abs(asked.value), 1e-9)
            AND lower(coalesce(method.laboratory, '')) = lower(asked.laboratory))`;

/** Marks the lines whose reading is in the database already or in an earlier row of the file. They are not taken. */
export async function markDuplicates(db: SqlReader, lines: readonly FileLine[]): Promise<void> {
  const taken = await withoutRepeats(lines);
  for (let from = 0; from < taken.length; from += linesPerQuery) {
    const part = taken.slice(from, from + linesPerQuery);
    const asked = part.map(({ parsed }, i) => duplicateQuery(parsed, i));
    const { rows } = await db.query<{ i: number }>(query, [JSON.stringify(asked), valueTolerance]);
    for (const { i } of rows) markDuplicate(part[i], 'is there already');
  }
}

type Taken = FileLine & { parsed: ParsedLine };

async function withoutRepeats(lines: readonly FileLine[]): Promise<Taken[]> {
  const breathe = yieldLoop();
  const seen = new Set<string>();
  const taken: Taken[] = [];
  for (const line of lines) {
    await breathe();
    if (!isTaken(line)) continue;
    const { systemId, quantity, at, reading, instrument } = line.parsed;
    const key = [
      systemId,
      quantity.code,
      at.getTime(),
      reading.value,
      reading.below,
      instrument.laboratory,
    ].join(' ');
    if (seen.has(key)) markDuplicate(line, 'stands in an earlier row');
    else taken.push(line);
    seen.add(key);
  }
  return taken;
}

const isTaken = (line: FileLine): line is Taken => line.state === 'taken' && line.parsed !== null;

function duplicateQuery(
  { systemId, quantity, at, reading, instrument }: ParsedLine,
  i: number,
): DuplicateQuery {
  const { value, below } = reading;
  return {
    i,
    system: systemId,
    code: quantity.code,
    at: at.toISOString(),
    value,
    below,
    laboratory: instrument.laboratory,
  };
}

function markDuplicate(line: FileLine | undefined, reason: string): void {
  if (line === undefined) return;
  line.state = 'present';
  line.reason = reason;
}
