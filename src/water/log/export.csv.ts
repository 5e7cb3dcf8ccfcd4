import type pg from 'pg';
import { type CsvCell, csvText } from '../../platform/csv.ts';
import { whoDid } from '../../platform/database/who-did.ts';
import { isoTime } from '../../platform/words/iso-time.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import type { MakeUp } from './water-changes.rules.ts';
import { raisesNothingReckoned, riseNotKnown } from './words.rules.ts';

/** The logs that go out as files. */
export type ExportedLog = 'doses' | 'water-changes' | 'feedings';

interface Row {
  id: string;
  systemId: string;
  at: Date;
  by: string | null;
  note: string;
  voided: string | null;
}
interface DoseRow extends Row {
  substance: string;
  amount: number;
  unit: string;
  code: string | null;
  canonicalUnit: string | null;
  effect: number | null;
  reason: string;
}
interface ChangeRow extends Row {
  volumeL: number;
  makeUp: MakeUp | null;
}
interface FeedingRow extends Row {
  food: string;
  amountG: number | null;
  tank: string | null;
  pumpsOffMin: number | null;
  response: string;
}

const common = `entry.id, entry.system_id AS "systemId", entry.at, entry.void_reason AS voided`;
const by = `${whoDid('entry', 'done_by')} AS by`;
const own = 'LEFT JOIN account ON account.id = entry.account_id';

// Entries of some systems, system by system, each by its time: those behind a place in the first of them. $1 the systems,
// $2 and $3 the place, $4 how many.
const place = 'FROM unnest($1::uuid[]) WITH ORDINALITY AS place(system_id, nth)';
const behind = `(CASE WHEN nth = 1 THEN $2::timestamptz ELSE '-infinity' END, $3::uuid)`;
const inOrder = 'ORDER BY nth, entry.at, entry.id LIMIT $4';

const doses = `
  SELECT ${common}, coalesce(${whoDid('entry', 'done_by')}, 'by the doser ' || doser.name || ', calculated') AS by, entry.note, substance, amount, unit, quantity_code AS code, quantity.canonical_unit AS "canonicalUnit", effect, reason
    ${place}
   CROSS JOIN LATERAL (SELECT * FROM dose WHERE dose.system_id = place.system_id AND (dose.at, dose.id) > ${behind}
                          ORDER BY dose.at, dose.id LIMIT $4) AS entry
    ${own} LEFT JOIN quantity ON quantity.code = entry.quantity_code
    LEFT JOIN equipment AS doser ON doser.id = entry.doser_id ${inOrder}`;
const changes = `
  SELECT ${common}, ${by}, entry.note, volume_l AS "volumeL", make_up AS "makeUp" ${place}
   CROSS JOIN LATERAL (SELECT * FROM water_change WHERE water_change.system_id = place.system_id AND (water_change.at, water_change.id) > ${behind}
                          ORDER BY water_change.at, water_change.id LIMIT $4) AS entry
    ${own} ${inOrder}`;
const feedings = `
  SELECT ${common}, ${by}, '' AS note, food, amount_g AS "amountG", tank.name AS tank, pumps_off_min AS "pumpsOffMin", response
    ${place}
   CROSS JOIN LATERAL (SELECT * FROM feeding WHERE feeding.system_id = place.system_id AND (feeding.at, feeding.id) > ${behind}
                          ORDER BY feeding.at, feeding.id LIMIT $4) AS entry
    ${own} LEFT JOIN tank ON tank.id = entry.tank_id ${inOrder}`;

const commonHeads = ['at', 'system', 'by', 'note', 'voided'];

/** The columns of each log's file. */
export const logHeads: Readonly<Record<ExportedLog, readonly string[]>> = {
  doses: [...commonHeads, 'what', 'amount', 'unit', 'raises', 'rise', 'rise unit', 'reason'],
  'water-changes': [...commonHeads, 'amount', 'unit', 'new water'],
  feedings: [...commonHeads, 'food', 'amount', 'unit', 'tank', 'pumps off', 'response'],
};

/** One system's log as a file that comes back in as it went out. */
export async function logCsv(
  pool: pg.Pool,
  log: ExportedLog,
  system: { id: string; name: string },
  timeZone: string,
): Promise<string> {
  const breathe = yieldLoop();
  const parts = [csvText([[...logHeads[log]]])];
  for (let after: LogPlace | null = null; ; ) {
    const rows = await logRows(pool, log, { systems: [system], timeZone, after, limit: entriesAtOnce });
    for (const { cells } of rows) {
      parts.push(csvText([cells]));
      await breathe();
    }
    if (rows.length < entriesAtOnce) return parts.join('');
    after = rows.at(-1)?.place ?? null;
  }
}

/** Entries read at a time for a file: own choice. */
const entriesAtOnce = 2_000;

/** Where an entry stands in its system's log. */
export interface LogPlace {
  systemId: string;
  /** ISO 8601. */
  at: string;
  id: string;
}

/** Which entries: of these systems one after the other, `after` a place in the first of them. */
interface LogQuestion {
  systems: readonly { id: string; name: string }[];
  timeZone: string;
  after: LogPlace | null;
  limit: number;
}

/** The same as rows with their places: nothing left out, voided entries with their reason. One query. */
export async function logRows(
  pool: pg.Pool,
  log: ExportedLog,
  { systems, timeZone, after, limit }: LogQuestion,
): Promise<{ place: LogPlace; cells: CsvCell[] }[]> {
  const names = new Map(systems.map(({ id, name }) => [id, name]));
  const asked = [systems.map(({ id }) => id), after?.at ?? '-infinity', after?.id ?? noId, limit];
  const placed = <T extends Row>(rows: readonly T[], cellsOf: (row: T) => CsvCell[]) =>
    rows.map((row) => {
      const { id, systemId, at, by, note, voided } = row;
      const first = [isoTime(at, timeZone), names.get(systemId) ?? '', by, note, voided];
      return { place: { systemId, at: at.toISOString(), id }, cells: [...first, ...cellsOf(row)] };
    });
  switch (log) {
    case 'doses':
      return placed((await pool.query<DoseRow>(doses, asked)).rows, (row) => [
        ...[row.substance, row.amount, row.unit],
        ...raisesCells(row),
        row.reason,
      ]);
    case 'water-changes':
      return placed((await pool.query<ChangeRow>(changes, asked)).rows, (row) => [
        ...[row.volumeL, 'L', newWater(row.makeUp)],
      ]);
    case 'feedings':
      return placed((await pool.query<FeedingRow>(feedings, asked)).rows, (row) => [
        ...[row.food, row.amountG, row.amountG === null ? null : 'g', row.tank],
        ...[row.pumpsOffMin, row.response],
      ]);
  }
}

/** What a dose raises, by how much and in what: said to be not known where it is not, so that it is not asked again. */
const raisesCells = ({ code, effect, canonicalUnit }: DoseRow): CsvCell[] =>
  code === null && effect === 0
    ? [raisesNothingReckoned, 0, null]
    : [code, effect ?? riseNotKnown, effect === null ? null : canonicalUnit];

/** Before every id. */
const noId = '00000000-0000-0000-0000-000000000000';

/** What the new water held, in canonical units: "salinity 30; calcium 420"; "usual" for the usual make-up water. */
const newWater = (makeUp: MakeUp | null) =>
  makeUp === null
    ? 'usual'
    : Object.entries(makeUp)
        .map(([code, value]) => `${code} ${value}`)
        .join('; ');
