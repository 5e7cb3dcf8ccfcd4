import type pg from 'pg';
import type { Keeping, Line } from './lines.rules.ts';

/** How many lines one question to the database asks about. */
const batch = 2000;
/** Values that agree to this part are one: a file's six digits are fewer than a number's. */
const sameValue = 2e-5;

interface Asked {
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
  SELECT DISTINCT asked.i
    FROM json_to_recordset($1::json) AS asked(i int, system uuid, code text, at timestamptz, value float8, below boolean, laboratory text)
    JOIN reading ON reading.system_id = asked.system AND reading.quantity_code = asked.code AND reading.voided_at IS NULL
     AND reading.at >= date_trunc('second', asked.at) AND reading.at < date_trunc('second', asked.at) + interval '1 second'
     AND reading.below_detection = asked.below AND abs(reading.value - asked.value) <= $2::float8 * greatest(abs(asked.value), 1e-9)
    LEFT JOIN method ON method.id = reading.method_id
   WHERE lower(coalesce(method.laboratory, '')) = lower(asked.laboratory)`;

/** Marks the lines whose reading is there already, or stood earlier in the file: they are left out. */
export async function markPresent(db: Pick<pg.Pool, 'query'>, lines: readonly Line[]): Promise<void> {
  const taken = withoutRepeats(lines);
  for (let from = 0; from < taken.length; from += batch) {
    const part = taken.slice(from, from + batch);
    const asked = part.map(({ kept }, i) => askedOf(kept, i));
    const { rows } = await db.query<{ i: number }>(query, [JSON.stringify(asked), sameValue]);
    for (const { i } of rows) leave(part[i], 'is there already');
  }
}

type Taken = Line & { kept: Keeping };

function withoutRepeats(lines: readonly Line[]): Taken[] {
  const seen = new Set<string>();
  return lines.filter((line): line is Taken => {
    if (line.state !== 'taken' || line.kept === null) return false;
    const { systemId, quantity, at, reading, means } = line.kept;
    const key = [systemId, quantity.code, at.getTime(), reading.value, reading.below, means.laboratory].join(
      ' ',
    );
    if (seen.has(key)) leave(line, 'stands in an earlier row');
    else seen.add(key);
    return line.state === 'taken';
  });
}

function askedOf({ systemId, quantity, at, reading, means }: Keeping, i: number): Asked {
  const { value, below } = reading;
  return {
    i,
    system: systemId,
    code: quantity.code,
    at: at.toISOString(),
    value,
    below,
    laboratory: means.laboratory,
  };
}

function leave(line: Line | undefined, reason: string): void {
  if (line === undefined) return;
  line.state = 'present';
  line.reason = reason;
}
