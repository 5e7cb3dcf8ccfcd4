import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { groupInTurns, yieldLoop } from '../../platform/yield-loop.ts';
import { sayReading } from '../../water/quantities/quantities.ts';
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
  above: boolean;
  laboratory: string;
  method: string | null;
  kit: string | null;
  batch: string;
}

// A file's clock shows seconds, ours more; a laboratory's value and the bench's are two readings.
const query = `
  SELECT asked.i, found.same, found.value, found.below, found.above
    FROM json_to_recordset($1::json) AS asked(i int, system uuid, code text, at timestamptz, value float8, below boolean, above boolean,
                                             laboratory text, method uuid, kit uuid, batch text)
    JOIN LATERAL (
           SELECT near.value, near.below, near.above,
                  near.below = asked.below AND near.above = asked.above AND abs(near.value - asked.value) <= $2::float8 * greatest(abs(asked.value), 1e-9) AS same
             FROM (SELECT value, below_detection AS below, above_scale AS above, method_id, kit_id, batch FROM reading
                    WHERE system_id = asked.system AND quantity_code = asked.code AND voided_at IS NULL
                      AND at >= date_trunc('second', asked.at) AND at < date_trunc('second', asked.at) + interval '1 second'
                   UNION ALL
                   SELECT value, below_detection, above_scale, method_id, kit_id, batch
                     FROM unpacked_readings(asked.system, asked.code, date_trunc('second', asked.at), date_trunc('second', asked.at) + interval '999 milliseconds') OFFSET 0) AS near
             LEFT JOIN method ON method.id = near.method_id
            WHERE lower(coalesce(method.laboratory, '')) = lower(asked.laboratory)
              AND (near.method_id IS NOT DISTINCT FROM asked.method AND near.kit_id IS NOT DISTINCT FROM asked.kit AND near.batch = asked.batch
                   OR near.below = asked.below AND near.above = asked.above AND abs(near.value - asked.value) <= $2::float8 * greatest(abs(asked.value), 1e-9))
            ORDER BY same DESC LIMIT 1) AS found ON true`;

// The figures of a day whose values were let go are final.
const finalQuery = `
  SELECT asked.i FROM json_to_recordset($1::json) AS asked(i int, system uuid, code text, at timestamptz, method uuid, kit uuid)
    JOIN system ON system.id = asked.system JOIN site ON site.id = system.site_id
   WHERE EXISTS (SELECT FROM reading_rollup AS final
                  WHERE final.system_id = asked.system AND final.quantity_code = asked.code AND final.grain = 'day'
                    AND final.at <= asked.at AND final.at > asked.at - interval '25 hours'
                    AND asked.at < date_trunc('day', final.at + interval '36 hours', site.time_zone)
                    AND final.method_id = asked.method AND final.instrument = coalesce(asked.kit, asked.method) AND final.gone > 0)`;

/**
 * Marks the lines whose reading is in the database already or in an earlier row of the file. They are not taken. Nor is
 * another value of one batch by the same method and kit at the same second: one of the two is wrong, and a person says
 * which. Two batches of one time are two samples.
 */
export async function markDuplicates(db: SqlReader, lines: readonly FileLine[]): Promise<void> {
  const taken = await withoutRepeats(lines);
  for (let from = 0; from < taken.length; from += linesPerQuery) {
    const part = taken.slice(from, from + linesPerQuery);
    const asked = part.map(({ parsed }, i) => duplicateQuery(parsed, i));
    const { rows } = await db.query<Found>(query, [JSON.stringify(asked), valueTolerance]);
    for (const found of rows) markFound(part[found.i], found);
    const final = await db.query<{ i: number }>(finalQuery, [JSON.stringify(asked)]);
    for (const { i } of final.rows) markFinal(part[i]);
  }
}

interface Found {
  i: number;
  same: boolean;
  value: number;
  below: boolean;
  above: boolean;
}

function markFinal(line: Taken | undefined): void {
  if (line?.state !== 'taken') return;
  line.state = 'refused';
  line.reason =
    'What this probe showed on that day is kept as figures of its hours and the day alone, which stay as they are.';
}

function markFound(line: Taken | undefined, { same, ...found }: Found): void {
  if (line === undefined) return;
  if (same) {
    markDuplicate(line, 'is there already');
    return;
  }
  const there = sayReading(line.parsed.quantity, found);
  line.state = 'refused';
  line.reason = `At this very time ${there} is there already, by the same method. If the file is right, void that reading (or take its file back) and take this file again; both are never kept.`;
}

type Taken = FileLine & { parsed: ParsedLine };

async function withoutRepeats(lines: readonly FileLine[]): Promise<Taken[]> {
  const breathe = yieldLoop();
  const seen = new Set<string>();
  const taken: Taken[] = [];
  for (const line of lines) {
    await breathe();
    if (!isTaken(line)) continue;
    const { reading, instrument } = line.parsed;
    const key = [secondOf(line), line.parsed.at.getTime(), valueText(reading), instrument.laboratory].join(
      ' ',
    );
    if (seen.has(key)) markDuplicate(line, 'is in an earlier row');
    else taken.push(line);
    seen.add(key);
  }
  for (const own of (await groupInTurns(taken, sampleOf)).values()) {
    await breathe();
    if (own.length > 1) refuseAll(own);
  }
  return taken.filter(isTaken);
}

const valueText = ({ value, below, above }: ParsedLine['reading']) => `${value} ${below} ${above}`;

/** System, quantity and second of a line. */
const secondOf = ({ parsed: { systemId, quantity, at } }: Taken) =>
  `${systemId} ${quantity.code} ${Math.floor(at.getTime() / 1000)}`;

/** What can have one value only: one sample, by one instrument, at one second. */
function sampleOf(line: Taken): string {
  const { instrument, batch } = line.parsed;
  const { laboratory, methodId, kitId } = instrument;
  return [secondOf(line), laboratory.toLowerCase(), methodId ?? '', kitId ?? '', batch].join(' ');
}

/** Values of one sample that differ are all refused, each with the others named. */
function refuseAll(lines: readonly Taken[]): void {
  const told = lines.map(({ row, parsed }) => ({ row, said: sayReading(parsed.quantity, parsed.reading) }));
  for (const line of lines) {
    const others = told
      .filter(({ row }) => row !== line.row)
      .map(({ row, said }) => `row ${row} says ${said}`);
    line.state = 'refused';
    line.reason = `Of the same second and method ${others.length === 0 ? 'this row has two values' : others.join(', ')}. Correct the time or take out the wrong one, and take the file again; none of them is kept.`;
  }
}

const isTaken = (line: FileLine): line is Taken => line.state === 'taken' && line.parsed !== null;

function duplicateQuery(
  { systemId, quantity, at, reading, instrument, batch }: ParsedLine,
  i: number,
): DuplicateQuery {
  const { value, below, above } = reading;
  return {
    i,
    system: systemId,
    code: quantity.code,
    at: at.toISOString(),
    value,
    below,
    above,
    laboratory: instrument.laboratory,
    method: instrument.methodId,
    kit: instrument.kitId,
    batch,
  };
}

function markDuplicate(line: FileLine | undefined, reason: string): void {
  if (line === undefined) return;
  line.state = 'present';
  line.reason = reason;
}
