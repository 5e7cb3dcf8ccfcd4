import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import type { Tx } from '../../platform/service.ts';
import { groupInTurns, yieldLoop } from '../../platform/yield-loop.ts';
import { dayMs } from '../../science/numeric/time.ts';
import type { Quantity } from '../quantities/quantities.ts';
import { lockWaters } from '../systems/systems.ts';
import type { StoredReading } from '../trust/measured.ts';
import { type ImportedVerdict, judgedWithinDays, judgeImported } from './imported.rules.ts';

/** One reading of a file, with what it was measured with. Values canonical. */
export interface ImportedReading {
  systemId: string;
  quantity: Quantity;
  at: Date;
  value: number;
  below: boolean;
  above: boolean;
  uncertainty: number;
  enteredText: string;
  enteredUnit: string;
  /** What the number shown was multiplied by. */
  factor: number;
  methodId: string | null;
  kitId: string | null;
  /** The laboratory that measured it; '' for the farm's own tests. */
  laboratory: string;
  batch: string;
  note: string;
  /** Who tested, by name; '' where the file does not say. */
  measuredBy: string;
}

type Row = ImportedReading & { id: string; verdict: ImportedVerdict };

/** How many readings one statement writes: enough to be fast, little enough to let other requests in between. */
const rowsPerStatement = 500;

/**
 * Saves the readings of one file: judged in order of time (see `judgeImported`), written in batches. Each system is
 * evaluated once.
 */
export async function saveImported(
  work: Work,
  importId: string,
  readings: readonly ImportedReading[],
): Promise<void> {
  const systems = readings.map((reading) => reading.systemId);
  await lockWaters(work.tx, systems);
  const rows = await judgeRows(work, readings);
  // Whatever settles a reading is later than it, so the latest are written first.
  const breathe = yieldLoop();
  rows.sort((a, b) => b.at.getTime() - a.at.getTime());
  await breathe();
  for (let from = 0; from < rows.length; from += rowsPerStatement) {
    await insertRows(work, importId, rows.slice(from, from + rowsPerStatement));
  }
  for (const systemId of new Set(systems)) work.reevaluate(systemId);
}

const seriesKey = (row: { systemId: string; code: string; laboratory: string; probe: boolean }) =>
  [row.systemId, row.code, row.probe ? 'probe' : 'test', row.laboratory.toLowerCase()].join(' ');

async function judgeRows(work: Work, readings: readonly ImportedReading[]): Promise<Row[]> {
  const breathe = yieldLoop();
  const rows: Row[] = [];
  for (const reading of readings) {
    rows.push({ ...reading, id: uuidv7(), verdict: { trust: 'plain', reason: '', settledBy: null } });
    await breathe();
  }
  const [existing, bands, probes] = [
    await loadExisting(work.tx, rows),
    await loadBands(work.tx, rows),
    await probeMethods(work.tx),
  ];
  const isReadOff = ({ methodId }: Row) => methodId !== null && probes.get(methodId) === 'read off';
  const lines = await groupInTurns(rows, (row) =>
    seriesKey({ ...row, code: row.quantity.code, probe: isReadOff(row) }),
  );
  const byId = new Map(rows.map((row) => [row.id, row]));
  await breathe();
  for (const [key, own] of lines) {
    const [first] = own;
    if (first === undefined) continue;
    const imported = own.filter((row) => probes.get(row.methodId ?? '') !== 'reports').map(measurementOf);
    const band = bands.get(`${first.systemId} ${first.quantity.code}`) ?? { low: null, high: null };
    const line = { quantity: first.quantity, band, existing: existing.get(key) ?? [], imported };
    for (const [id, verdict] of judgeImported(line, work.now)) {
      const row = byId.get(id);
      if (row !== undefined) row.verdict = verdict;
      await breathe();
    }
  }
  return rows;
}

const measurementOf = ({
  id,
  at,
  value,
  below,
  above,
  uncertainty,
  kitId,
  methodId,
}: Row): StoredReading => ({
  id,
  at,
  value,
  below,
  above,
  uncertainty,
  kitId,
  methodId,
});

/** The trusted readings around the imported ones, by series. One query. */
async function loadExisting(tx: Tx, rows: readonly Row[]): Promise<Map<string, StoredReading[]>> {
  const series = await groupInTurns(rows, (row) => `${row.systemId} ${row.quantity.code}`);
  const spans = [...series.values()].map((own) => {
    const times = own.map((row) => row.at.getTime());
    const [low, high] = times.reduce(
      ([a, b], t) => [Math.min(a, t), Math.max(b, t)],
      [times[0] ?? 0, times[0] ?? 0],
    );
    const around = judgedWithinDays * dayMs;
    const [from, to] = [new Date(low - around), new Date(high + around)];
    return { system: own[0]?.systemId, code: own[0]?.quantity.code, from, to };
  });
  const found = await tx.$queryRaw<
    (StoredReading & { systemId: string; code: string; laboratory: string; probe: boolean })[]
  >`
    SELECT reading.id, reading.at, reading.value, reading.below_detection AS below, reading.uncertainty, reading.kit_id AS "kitId",
           reading.method_id AS "methodId", reading.system_id AS "systemId", reading.quantity_code AS code,
           coalesce(method.laboratory, '') AS laboratory, coalesce(method.is_probe, false) AS probe,
           reading.above_scale AS above
      FROM json_to_recordset(${JSON.stringify(spans)}::json) AS span(system uuid, code text, "from" timestamptz, "to" timestamptz)
      JOIN reading_with_vote AS reading ON reading.system_id = span.system AND reading.quantity_code = span.code AND reading.voided_at IS NULL
       AND reading.at BETWEEN span."from" AND span."to" AND reading.trust IN ('plain', 'confirmed')
      LEFT JOIN method ON method.id = reading.method_id
     WHERE method.every_minutes IS NULL`;
  return groupInTurns(found, seriesKey);
}

async function loadBands(tx: Tx, rows: readonly Row[]) {
  const systemId = { in: [...new Set(rows.map((row) => row.systemId))] };
  const targets = await tx.systemQuantity.findMany({ where: { systemId } });
  return new Map(
    targets.map((target) => [
      `${target.systemId} ${target.quantityCode}`,
      { low: target.bandLow, high: target.bandHigh, starting: target.starting },
    ]),
  );
}

/**
 * Methods of probes. Values that one reports by itself are not judged one by one, since rules look at all of them
 * together; those that are read off are judged by each other alone.
 */
async function probeMethods(tx: Tx): Promise<Map<string, 'reports' | 'read off'>> {
  const methods = await tx.method.findMany({
    where: { OR: [{ isProbe: true }, { everyMinutes: { not: null } }] },
    select: { id: true, everyMinutes: true },
  });
  return new Map(methods.map(({ id, everyMinutes }) => [id, everyMinutes === null ? 'read off' : 'reports']));
}

async function insertRows(work: Work, importId: string, rows: readonly Row[]): Promise<void> {
  const written = rows.map(({ quantity, verdict, laboratory, ...row }) => ({
    ...row,
    ...verdict,
    code: quantity.code,
  }));
  await work.tx.$executeRaw`
    INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, below_detection, above_scale, uncertainty, entered_text, entered_unit,
                         trust, trust_reason, settled_by_id, note, batch, factor, measured_by, import_id, account_id, created_at)
    SELECT id, "systemId", code, "methodId", "kitId", at, value, below, above, uncertainty, "enteredText", "enteredUnit",
           trust::"Trust", reason, "settledBy", note, batch, factor, "measuredBy", ${importId}::uuid, ${work.accountId}::uuid, ${work.now}
      FROM json_to_recordset(${JSON.stringify(written)}::json)
        AS imported(id uuid, "systemId" uuid, code text, "methodId" uuid, "kitId" uuid, at timestamptz, value float8, below boolean, above boolean,
                   uncertainty float8, "enteredText" text, "enteredUnit" text, trust text, reason text, "settledBy" uuid, note text, batch text, factor float8, "measuredBy" text)`;
}

/**
 * Voids every reading of a file that is not voided yet. Readings that one of them had settled wait for a second one again.
 * @returns how many were voided
 */
export async function voidImported(work: Work, importId: string, reason: string): Promise<number> {
  const touched = await work.tx.$queryRaw<{ systemId: string; n: number }[]>`
    WITH voided AS (UPDATE reading SET voided_at = ${work.now}, void_reason = ${reason}
                     WHERE import_id = ${importId}::uuid AND voided_at IS NULL RETURNING system_id)
    SELECT system_id AS "systemId", count(*)::int AS n FROM voided GROUP BY system_id`;
  await work.tx.$executeRaw`
    UPDATE reading SET trust = 'unconfirmed', settled_by_id = NULL,
           trust_reason = trim(reading.trust_reason || ' The reading that settled it was taken back with its file, so it waits for a second one again.')
      FROM reading AS settling
     WHERE settling.id = reading.settled_by_id AND settling.import_id = ${importId}::uuid AND reading.voided_at IS NULL`;
  for (const { systemId } of touched) work.reevaluate(systemId);
  return touched.reduce((sum, { n }) => sum + n, 0);
}
