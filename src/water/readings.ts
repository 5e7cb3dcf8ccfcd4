import type pg from 'pg';
import { uuidv7 } from 'uuidv7';
import type { Prisma, Trust } from '../generated/prisma/client.ts';
import type { Work } from '../platform/change.ts';
import { Refusal } from '../platform/refusal.ts';
import type { FieldError } from '../platform/views/page.ts';
import { doubtOf } from './doubts.rules.ts';
import { type Entry, type Understood, understand } from './entries.rules.ts';
import { type History, historiesAt } from './history.ts';
import { type Bench, benchOf, type Instrument, instrumentOf } from './instruments.ts';
import { type Quantity, say } from './quantities.ts';
import { judge, type Measurement, type Verdict, whatSettles } from './readings.rules.ts';
import { findOpenWater } from './systems.ts';

export type { Entry } from './entries.rules.ts';

/** What was read in one system at one time. */
export interface EnteredReadings {
  systemId: string;
  at: Date;
  note?: string | undefined;
  readings: readonly Entry[];
}

/** One reading as it was kept; plain JSON. */
export interface EnteredReading {
  id: string;
  quantityCode: string;
  name: string;
  /** As the farm writes it: "8.3 dKH". */
  said: string;
  trust: Trust;
  reason: string;
  /** What would settle an unconfirmed reading. */
  advice: string;
}

interface Line {
  entry: Entry;
  quantity: Quantity;
  instrument: Instrument;
  reading: Understood;
}

/**
 * Keeps readings of one system at one time: as entered and in the canonical unit, with the method's uncertainty and
 * how far each is relied on; settles earlier readings that waited for a second one.
 * @throws Refusal naming each refused quantity as the field; a value in doubt is refused at "<quantity>-sure" until
 *   its entry says `sure`
 */
export async function enterReadings(
  work: Work,
  input: EnteredReadings,
): Promise<{ readings: EnteredReading[] }> {
  const system = await findOpenWater(work.tx, input.systemId);
  if (input.at > new Date(work.now.getTime() + 5 * 60_000))
    throw new Refusal('That is in the future. Enter when it was read.', { field: 'at' });
  const bench = await benchOf(
    work.tx,
    input.readings.map((entry) => entry.quantityCode),
  );
  const lines = readLines(input, bench);
  const histories = await historiesAt(
    work.tx,
    system.id,
    lines.map((line) => line.quantity.code),
    input.at,
  );
  refuseDoubts(lines, input.at, histories);
  const kept = lines.map((line) => keep(work, input, line, histories.get(line.quantity.code)));
  await work.tx.reading.createMany({ data: kept.map((one) => one.row) });
  await settleReadings(
    work,
    kept.flatMap((one) => one.verdict.settles.map((settled) => ({ ...settled, by: one.row.id }))),
  );
  for (const { row, told } of kept) {
    work.note(
      'reading.entered',
      { type: 'reading', id: row.id },
      {
        system: system.name,
        quantity: told.name,
        said: told.said,
        entered: row.enteredText,
        trust: told.trust,
      },
    );
  }
  work.touch(system.id);
  return { readings: kept.map((one) => one.told) };
}

/** Every line read, or all that is wrong with them at once. */
function readLines({ readings, at }: EnteredReadings, bench: Bench): Line[] {
  const errors: FieldError[] = [];
  const lines: Line[] = [];
  const seen = new Set<string>();
  for (const entry of readings) {
    const quantity = bench.quantities.get(entry.quantityCode);
    const fail = (message: string) => errors.push({ field: entry.quantityCode, message });
    if (quantity === undefined) fail(`There is no quantity called "${entry.quantityCode}".`);
    else if (seen.has(quantity.code))
      fail(`${quantity.name} is there twice. Enter a repeat as a reading of its own.`);
    else {
      seen.add(quantity.code);
      const instrument = instrumentOf(bench, entry, quantity, at);
      const read = 'refused' in instrument ? null : understand(entry, quantity, instrument.method);
      if ('refused' in instrument) fail(instrument.refused);
      else if (read?.ok === false) fail(read.message);
      else if (read?.reading) lines.push({ entry, quantity, instrument, reading: read.reading });
    }
  }
  if (errors.length > 0) throw refusal(errors);
  if (lines.length === 0)
    throw new Refusal('Enter at least one reading.', { field: readings[0]?.quantityCode ?? '' });
  return lines;
}

function refuseDoubts(lines: readonly Line[], at: Date, histories: ReadonlyMap<string, History>): void {
  const errors = lines.flatMap(({ entry, quantity, instrument, reading }) => {
    if (entry.sure) return [];
    const last = histories.get(quantity.code)?.past.at(-1) ?? null;
    const typed = {
      value: reading.entered,
      unit: reading.unit,
      measured: measurement(reading, instrument, at),
    };
    const doubt = doubtOf(quantity, typed, last);
    return doubt === null ? [] : [{ field: `${quantity.code}-sure`, message: `${quantity.name}: ${doubt}` }];
  });
  if (errors.length > 0) throw refusal(errors);
}

function refusal(errors: FieldError[]): Refusal {
  const [first] = errors;
  return new Refusal(first?.message ?? 'Not taken.', { fields: errors });
}

function measurement(reading: Understood, { method, kitId }: Instrument, at: Date): Measurement {
  const { value, below, uncertainty } = reading;
  return { at, value, below, uncertainty, kitId, methodId: method?.id ?? null };
}

type Row = Prisma.ReadingCreateManyInput & { id: string; enteredText: string };

function keep(
  work: Work,
  input: EnteredReadings,
  line: Line,
  history: History | undefined,
): { row: Row; verdict: Verdict; told: EnteredReading } {
  const { entry, quantity, instrument, reading } = line;
  const measured = measurement(reading, instrument, input.at);
  const setting = history ?? {
    past: [],
    pending: [],
    later: [],
    band: { low: null, high: null },
    explained: 0,
  };
  const verdict = judge(measured, { quantity, ...setting });
  const row: Row = {
    id: uuidv7(),
    systemId: input.systemId,
    quantityCode: quantity.code,
    methodId: measured.methodId,
    kitId: measured.kitId,
    at: input.at,
    value: reading.value,
    belowDetection: reading.below,
    uncertainty: reading.uncertainty,
    enteredText: entry.text.trim(),
    enteredUnit: reading.unit,
    trust: verdict.trust,
    trustReason: verdict.reason,
    settledById: verdict.settledBy,
    note: entry.note || input.note || '',
    accountId: work.by,
    createdAt: work.now,
  };
  const told: EnteredReading = {
    id: row.id,
    quantityCode: quantity.code,
    name: quantity.name,
    said: say(quantity, reading.value, reading.below),
    trust: verdict.trust,
    reason: verdict.reason,
    advice: verdict.trust === 'unconfirmed' ? whatSettles(quantity, measured) : '',
  };
  return { row, verdict, told };
}

/** Confirms or refutes readings that waited, all in one statement. */
async function settleReadings(
  work: Work,
  settled: readonly { id: string; trust: Trust; reason: string; by: string }[],
): Promise<void> {
  if (settled.length === 0) return;
  await work.tx.$executeRaw`
    UPDATE reading SET trust = said.trust::"Trust", trust_reason = trim(reading.trust_reason || ' ' || said.reason), settled_by_id = said.by::uuid
      FROM unnest(${settled.map((one) => one.id)}::text[], ${settled.map((one) => one.trust)}::text[],
                  ${settled.map((one) => one.reason)}::text[], ${settled.map((one) => one.by)}::text[]) AS said(id, trust, reason, by)
     WHERE reading.id = said.id::uuid AND reading.trust = 'unconfirmed'`;
  for (const { id, trust, reason } of settled)
    work.note(`reading.${trust}`, { type: 'reading', id }, { reason });
}

/** A reading as others read it; value and uncertainty canonical. */
export interface LatestReading {
  id: string;
  systemId: string;
  quantityCode: string;
  at: Date;
  value: number;
  below: boolean;
  uncertainty: number;
  trust: Trust;
  trustReason: string;
}

const latest = `
  SELECT reading.id, system_id AS "systemId", quantity_code AS "quantityCode", at, value, below_detection AS below, uncertainty,
         trust::text, trust_reason AS "trustReason"
    FROM unnest($1::uuid[]) AS asked(system_id)
    JOIN LATERAL (SELECT code FROM quantity) AS kinds ON true
    JOIN LATERAL (SELECT * FROM reading WHERE reading.system_id = asked.system_id AND reading.quantity_code = kinds.code
                    AND voided_at IS NULL AND trust <> 'refuted' ORDER BY at DESC, created_at DESC LIMIT 1) AS reading USING (system_id)`;

/** The newest standing reading of every quantity, by system and quantity code. One query. */
export async function latestReadings(
  pool: pg.Pool,
  systemIds: readonly string[],
): Promise<Map<string, Map<string, LatestReading>>> {
  const { rows } = await pool.query<LatestReading>(latest, [[...systemIds]]);
  const bySystem = new Map<string, Map<string, LatestReading>>(systemIds.map((id) => [id, new Map()]));
  for (const row of rows) bySystem.get(row.systemId)?.set(row.quantityCode, row);
  return bySystem;
}

/** One reading with everything a table says of it. */
export interface SeriesReading extends LatestReading {
  methodId: string | null;
  method: string | null;
  kitId: string | null;
  kit: string | null;
  enteredText: string;
  enteredUnit: string;
  note: string;
  /** Who read it; null for an instrument or the service. */
  by: string | null;
  settledById: string | null;
  supersedesId: string | null;
  voidedAt: Date | null;
  voidReason: string | null;
}

/** Which readings; both ends included. Voided and corrected ones only when asked for. */
export interface SeriesQuestion {
  systemId: string;
  /** One, or several. */
  quantityCode: string | readonly string[];
  from: Date;
  to: Date;
  withVoided?: boolean;
}

const series = `
  SELECT reading.id, reading.system_id AS "systemId", reading.quantity_code AS "quantityCode", reading.at, reading.value,
         reading.below_detection AS below, reading.uncertainty, reading.trust::text, reading.trust_reason AS "trustReason",
         reading.method_id AS "methodId", method.name AS method, reading.kit_id AS "kitId", kit.label AS kit,
         reading.entered_text AS "enteredText", reading.entered_unit AS "enteredUnit", reading.note, account.name AS by,
         reading.settled_by_id AS "settledById", reading.supersedes_id AS "supersedesId",
         reading.voided_at AS "voidedAt", reading.void_reason AS "voidReason"
    FROM reading
    LEFT JOIN method ON method.id = reading.method_id
    LEFT JOIN kit ON kit.id = reading.kit_id
    LEFT JOIN account ON account.id = reading.account_id
   WHERE reading.system_id = $1 AND reading.quantity_code = ANY($2::text[]) AND reading.at BETWEEN $3 AND $4
     AND ($5 OR reading.voided_at IS NULL)
   ORDER BY reading.at, reading.created_at, reading.id`;

/** The readings of a quantity (or several) in one system, oldest first. */
export async function readingSeries(pool: pg.Pool, question: SeriesQuestion): Promise<SeriesReading[]> {
  const { systemId, quantityCode, from, to, withVoided = false } = question;
  return (await pool.query<SeriesReading>(series, [systemId, [quantityCode].flat(), from, to, withVoided]))
    .rows;
}
