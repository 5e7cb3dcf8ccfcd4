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
export { type LatestReading, latestReadings, readingSeries, type SeriesReading } from './series.ts';

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
  const { lines, errors } = readLines(input, bench);
  const codes = lines.map((line) => line.quantity.code);
  const histories = await historiesAt(work.tx, system.id, codes, input.at);
  refuse([...errors, ...doubts(lines, input.at, histories)]);
  if (lines.length === 0) {
    throw new Refusal('Enter at least one reading.', { field: input.readings[0]?.quantityCode ?? '' });
  }
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

/** Every line read, and what is wrong with the others. */
function readLines({ readings, at }: EnteredReadings, bench: Bench): { lines: Line[]; errors: FieldError[] } {
  const lines: Line[] = [];
  const errors: FieldError[] = [];
  for (const [i, entry] of readings.entries()) {
    const quantity = bench.quantities.get(entry.quantityCode);
    const again = readings.findIndex((one) => one.quantityCode === entry.quantityCode) < i;
    const line =
      quantity === undefined
        ? `There is no quantity called "${entry.quantityCode}".`
        : readLine(entry, quantity, bench, at);
    if (again)
      errors.push({
        field: entry.quantityCode,
        message: `${quantity?.name ?? 'It'} is there twice. Enter a repeat as a reading of its own.`,
      });
    else if (typeof line === 'string')
      errors.push({ field: entry.quantityCode, message: naming(line, quantity) });
    else if (line !== null) lines.push(line);
  }
  return { lines, errors };
}

/** One line read, null where nothing was measured, or what is wrong with it. */
function readLine(entry: Entry, quantity: Quantity, bench: Bench, at: Date): Line | null | string {
  const instrument = instrumentOf(bench, entry, quantity, at);
  if ('refused' in instrument) return instrument.refused;
  const read = understand(entry, quantity, instrument.method);
  if (!read.ok) return read.message;
  return read.reading === null ? null : { entry, quantity, instrument, reading: read.reading };
}

/** The message with the quantity's name, so that a list of several can be told apart. */
function naming(message: string, quantity: Quantity | undefined): string {
  if (quantity === undefined || message.toLowerCase().includes(quantity.name.toLowerCase())) return message;
  return `${quantity.name}: ${message}`;
}

/** What is asked of the lines whose entry does not say that it is sure. */
function doubts(lines: readonly Line[], at: Date, histories: ReadonlyMap<string, History>): FieldError[] {
  return lines.flatMap(({ entry, quantity, instrument, reading }) => {
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
}

function refuse(errors: FieldError[]): void {
  const [first] = errors;
  if (first !== undefined) throw new Refusal(first.message, { fields: errors });
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
