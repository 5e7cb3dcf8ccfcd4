import type pg from 'pg';
import { type CsvCell, csvText } from '../../platform/csv.ts';
import { isoTime } from '../../platform/words/iso-time.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import type { MakeUp } from './water-changes.rules.ts';

/** The logs that go out as files. */
export type ExportedLog = 'doses' | 'water-changes' | 'feedings';

interface Row {
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

const common = `entry.at, entry.void_reason AS voided`;
const by = `coalesce(nullif(entry.done_by, ''), account.name) AS by`;
const own = 'LEFT JOIN account ON account.id = entry.account_id';
const ofSystem = 'WHERE entry.system_id = $1 ORDER BY entry.at, entry.id';

const doses = `
  SELECT ${common}, coalesce(nullif(entry.done_by, ''), account.name, 'by the doser ' || doser.name || ', calculated') AS by, entry.note, substance, amount, unit, quantity_code AS code, quantity.canonical_unit AS "canonicalUnit", effect, reason
    FROM dose AS entry ${own} LEFT JOIN quantity ON quantity.code = entry.quantity_code
    LEFT JOIN equipment AS doser ON doser.id = entry.doser_id ${ofSystem}`;
const changes = `
  SELECT ${common}, ${by}, entry.note, volume_l AS "volumeL", make_up AS "makeUp" FROM water_change AS entry ${own} ${ofSystem}`;
const feedings = `
  SELECT ${common}, ${by}, '' AS note, food, amount_g AS "amountG", tank.name AS tank, pumps_off_min AS "pumpsOffMin", response
    FROM feeding AS entry ${own} LEFT JOIN tank ON tank.id = entry.tank_id ${ofSystem}`;

const commonHeads = ['at', 'system', 'by', 'note', 'voided'];

/** The columns of each log's file. */
export const logHeads: Readonly<Record<ExportedLog, readonly string[]>> = {
  doses: [...commonHeads, 'what', 'amount', 'unit', 'raises', 'rise', 'rise unit', 'reason'],
  'water-changes': [...commonHeads, 'amount', 'unit', 'new water'],
  feedings: [...commonHeads, 'food', 'amount', 'unit', 'tank', 'pumps off', 'response'],
};

/** One system's log as a file that comes back in as it went out. */
export async function logCsv(...asked: Parameters<typeof logRows>): Promise<string> {
  const breathe = yieldLoop();
  const parts: string[] = [];
  for (const row of await logRows(...asked)) {
    parts.push(csvText([row]));
    await breathe();
  }
  return parts.join('');
}

/** The same as rows, the head first: nothing left out, voided entries with their reason. */
export async function logRows(
  pool: pg.Pool,
  log: ExportedLog,
  system: { id: string; name: string },
  timeZone: string,
): Promise<CsvCell[][]> {
  const first = ({ at, by, note, voided }: Row): CsvCell[] => [
    isoTime(at, timeZone),
    system.name,
    by,
    note,
    voided,
  ];
  switch (log) {
    case 'doses': {
      const { rows } = await pool.query<DoseRow>(doses, [system.id]);
      return sheet(log, rows, (row) => [
        ...first(row),
        ...[row.substance, row.amount, row.unit, row.code],
        ...(row.code === null ? [null, null] : [row.effect, row.canonicalUnit]),
        row.reason,
      ]);
    }
    case 'water-changes': {
      const { rows } = await pool.query<ChangeRow>(changes, [system.id]);
      return sheet(log, rows, (row) => [...first(row), ...[row.volumeL, 'L', newWater(row.makeUp)]]);
    }
    case 'feedings': {
      const { rows } = await pool.query<FeedingRow>(feedings, [system.id]);
      return sheet(log, rows, (row) => [
        ...first(row),
        ...[
          row.food,
          row.amountG,
          row.amountG === null ? null : 'g',
          row.tank,
          row.pumpsOffMin,
          row.response,
        ],
      ]);
    }
  }
}

/** What the new water held, in canonical units: "salinity 30; calcium 420"; "usual" for the usual make-up water. */
const newWater = (makeUp: MakeUp | null) =>
  makeUp === null
    ? 'usual'
    : Object.entries(makeUp)
        .map(([code, value]) => `${code} ${value}`)
        .join('; ');

const sheet = <T>(log: ExportedLog, rows: readonly T[], cells: (row: T) => CsvCell[]): CsvCell[][] => [
  [...logHeads[log]],
  ...rows.map(cells),
];
